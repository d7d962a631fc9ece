'use strict';
(function () {
  var root = document.documentElement;
  var live = document.getElementById('live');
  root.classList.add('js');

  // A screen reader tells what stands here whenever it changes.
  function say(words) { live.textContent = words; }

  function all(selector, within) { return Array.from((within || document).querySelectorAll(selector)); }

  // Layers.

  var slabs = document.getElementById('slabs');

  all('[data-layer]').forEach(function (box) {
    function set() { slabs.classList.toggle('without-' + box.dataset.layer, !box.checked); }
    box.addEventListener('change', set);
    set();
  });

  // On a small screen the switches would cover the drawing.
  if (window.matchMedia('(max-width: 700px)').matches) {
    all('details.layers').forEach(function (layers) { layers.open = false; });
  }

  // A table that is wider than the screen says so.

  function tellWide() {
    all('.scroll').forEach(function (table) { table.classList.toggle('wide', table.scrollWidth > table.clientWidth + 1); });
  }

  window.addEventListener('resize', tellWide);
  tellWide();

  // Printing.

  var paper = document.getElementById('paper');

  function setPaper() {
    all('style[data-paper]').forEach(function (style) {
      style.media = style.dataset.paper === paper.value ? 'print' : 'not all';
    });
  }

  paper.addEventListener('change', setPaper);
  setPaper();
  document.getElementById('print').addEventListener('click', function () { window.print(); });

  all('[data-fold]').forEach(function (button) {
    button.addEventListener('click', function () {
      all('details.opening').forEach(function (sheet) { sheet.open = button.dataset.fold === 'open'; });
    });
  });

  // Drawings that move. A stage holds the whole of its drawing and the part of it that is seen: x, y, width, height.

  var MOST = 40;
  var stages = {};

  function Stage(slab) {
    this.slab = slab;
    this.svg = slab.querySelector('svg.live');
    this.whole = this.svg.getAttribute('viewBox').split(' ').map(Number);
    this.seen = this.whole.slice();
    this.pointers = new Map();
    this.moved = false;
    this.listen();
  }

  Stage.prototype.show = function (x, y, w, h) {
    var o = this.whole;
    w = Math.min(o[2], Math.max(o[2] / MOST, w));
    h = w * o[3] / o[2];
    x = Math.min(o[0] + o[2] - w, Math.max(o[0], x));
    y = Math.min(o[1] + o[3] - h, Math.max(o[1], y));
    this.seen = [x, y, w, h];
    this.svg.setAttribute('viewBox', this.seen.map(function (v) { return Math.round(v * 1000) / 1000; }).join(' '));
    this.svg.classList.toggle('zoomed', w < o[2] - 1e-6);
  };

  Stage.prototype.isWhole = function () { return this.seen[2] >= this.whole[2] - 1e-6; };

  Stage.prototype.reset = function () { this.show.apply(this, this.whole); };

  // Enlarges by a factor and leaves the point (in the drawing's coordinates) where it is on the screen.
  Stage.prototype.zoom = function (factor, at) {
    var s = this.seen;
    at = at || [s[0] + s[2] / 2, s[1] + s[3] / 2];
    var w = Math.min(this.whole[2], Math.max(this.whole[2] / MOST, s[2] / factor));
    var k = w / s[2];
    this.show(at[0] - (at[0] - s[0]) * k, at[1] - (at[1] - s[1]) * k, w, s[3] * k);
  };

  // Moves what is seen by shares of its width and height.
  Stage.prototype.pan = function (right, down) {
    var s = this.seen;
    this.show(s[0] + right * s[2], s[1] + down * s[3], s[2], s[3]);
  };

  Stage.prototype.point = function (x, y) {
    var m = this.svg.getScreenCTM();
    return [(x - m.e) / m.a, (y - m.f) / m.d];
  };

  Stage.prototype.act = function (what) {
    switch (what) {
      case 'in': this.zoom(1.5); break;
      case 'out': this.zoom(1 / 1.5); break;
      case 'whole': this.reset(); break;
      case 'left': this.pan(-0.2, 0); break;
      case 'right': this.pan(0.2, 0); break;
      case 'up': this.pan(0, -0.2); break;
      case 'down': this.pan(0, 0.2); break;
    }
  };

  Stage.prototype.listen = function () {
    var stage = this;
    var svg = this.svg;

    all('[data-move]', this.slab).forEach(function (button) {
      button.addEventListener('click', function () {
        stage.act(button.dataset.move);
        say('Enlarged ' + (Math.round(10 * stage.whole[2] / stage.seen[2]) / 10) + ' times.');
      });
    });

    svg.addEventListener('keydown', function (e) {
      if (e.ctrlKey || e.metaKey || e.altKey) { return; }
      var spot = e.target.closest('.spot');
      if (spot && (e.key === 'Enter' || e.key === ' ')) {
        e.preventDefault();
        pick(stage.slab, spot.dataset.piece);
        return;
      }
      var moves = {
        '+': 'in', '=': 'in', '-': 'out', '0': 'whole',
        ArrowLeft: 'left', ArrowRight: 'right', ArrowUp: 'up', ArrowDown: 'down'
      };
      var what = moves[e.key];
      // Where there is nothing to move, the arrows scroll the page.
      if (!what || (e.key.startsWith('Arrow') && stage.isWhole())) { return; }
      e.preventDefault();
      stage.act(what);
    });

    svg.addEventListener('wheel', function (e) {
      var out = e.deltaY > 0;
      // The wheel scrolls the page unless Ctrl is held, or the drawing is in use and can give way.
      var used = svg.contains(document.activeElement) && !(out && stage.isWhole());
      if (!e.ctrlKey && !used) { return; }
      e.preventDefault();
      stage.zoom(Math.exp(-Math.max(-60, Math.min(60, e.deltaY)) * 0.008), stage.point(e.clientX, e.clientY));
    }, { passive: false });

    // Two fingers are ours; one scrolls the page as long as the whole slab is seen.
    svg.addEventListener('touchmove', function (e) {
      if (e.touches.length > 1 || !stage.isWhole()) { e.preventDefault(); }
    }, { passive: false });

    svg.addEventListener('pointerdown', function (e) {
      if (e.pointerType === 'mouse' && e.button !== 0) { return; }
      stage.pointers.set(e.pointerId, [e.clientX, e.clientY]);
      if (stage.pointers.size === 1) {
        stage.moved = false;
        stage.from = [e.clientX, e.clientY];
      }
    });

    svg.addEventListener('pointermove', function (e) {
      var last = stage.pointers.get(e.pointerId);
      if (!last) { return; }
      var now = [e.clientX, e.clientY];
      if (stage.pointers.size === 1) {
        var far = Math.hypot(now[0] - stage.from[0], now[1] - stage.from[1]);
        // A hand that shakes while it clicks does not drag.
        if (!stage.moved && far < 5) { return; }
        if (!stage.moved) {
          stage.moved = true;
          svg.setPointerCapture(e.pointerId);
          last = stage.from;
        }
        var a = stage.point(last[0], last[1]);
        var b = stage.point(now[0], now[1]);
        stage.show(stage.seen[0] + a[0] - b[0], stage.seen[1] + a[1] - b[1], stage.seen[2], stage.seen[3]);
      } else if (stage.pointers.size === 2) {
        stage.moved = true;
        var other = null;
        stage.pointers.forEach(function (p, id) { if (id !== e.pointerId) { other = p; } });
        var before = Math.hypot(last[0] - other[0], last[1] - other[1]);
        var after = Math.hypot(now[0] - other[0], now[1] - other[1]);
        if (before > 0 && after > 0) { stage.zoom(after / before, stage.point(other[0], other[1])); }
      }
      stage.pointers.set(e.pointerId, now);
    });

    ['pointerup', 'pointercancel'].forEach(function (type) {
      svg.addEventListener(type, function (e) { stage.pointers.delete(e.pointerId); });
    });

    svg.addEventListener('pointerleave', function (e) {
      if (!svg.hasPointerCapture(e.pointerId)) { stage.pointers.delete(e.pointerId); }
    });

    svg.addEventListener('click', function (e) {
      if (stage.moved) { stage.moved = false; return; }
      var spot = e.target.closest('.spot');
      if (spot) { pick(stage.slab, spot.dataset.piece); }
    });
  };

  // Puts a ring round a place, and shows it large enough to be seen.
  Stage.prototype.mark = function (x, y) {
    var beacon = this.svg.querySelector('.beacon');
    beacon.textContent = '';
    [5, 3].forEach(function (radius) {
      var ring = document.createElementNS('http://www.w3.org/2000/svg', 'circle');
      ring.setAttribute('cx', x);
      ring.setAttribute('cy', y);
      ring.setAttribute('r', radius);
      beacon.appendChild(ring);
    });
    beacon.classList.add('lit');
    var w = Math.min(this.seen[2], this.whole[2] / 2);
    var h = w * this.whole[3] / this.whole[2];
    this.show(x - w / 2, y - h / 2, w, h);
  };

  all('.slab').forEach(function (slab) {
    if (slab.querySelector('svg.live')) { stages[slab.dataset.slab] = new Stage(slab); }
  });

  var before = [];
  window.addEventListener('beforeprint', function () {
    before = Object.values(stages).map(function (stage) { return [stage, stage.seen.slice()]; });
    before.forEach(function (pair) { pair[0].reset(); });
  });
  window.addEventListener('afterprint', function () {
    before.forEach(function (pair) { pair[0].show.apply(pair[0], pair[1]); });
  });

  // Picking. An empty number picks none.

  function pick(slab, number) {
    var name = '';
    all('.sheet', slab).forEach(function (sheet) {
      var on = sheet.dataset.piece === number;
      sheet.classList.toggle('picked', on);
      if (on) { name = sheet.querySelector('h4').textContent; }
    });
    all('.spot', slab).forEach(function (spot) {
      spot.setAttribute('aria-pressed', String(spot.dataset.piece === number));
    });
    slab.classList.toggle('has-pick', name !== '');
    say(name ? 'Piece ' + name + ' is picked; its sheet is shown.' : 'No piece is picked.');
  }

  function still() { return window.matchMedia('(prefers-reduced-motion: reduce)').matches; }

  function bring(element) {
    element.scrollIntoView({ block: 'nearest', behavior: still() ? 'auto' : 'smooth' });
  }

  document.addEventListener('keydown', function (e) {
    if (e.key !== 'Escape') { return; }
    all('.slab.has-pick').forEach(function (slab) { pick(slab, ''); });
  });

  // Links to sheets of pieces, to sheets of openings, and to places of findings.

  function openTarget() {
    var id = decodeURIComponent(location.hash.slice(1));
    var target = id ? document.getElementById(id) : null;
    if (!target) { return; }
    if (target.classList.contains('sheet')) {
      pick(target.closest('.slab'), target.dataset.piece);
      bring(target);
      target.focus({ preventScroll: true });
    } else if (target.classList.contains('opening')) {
      target.open = true;
      target.scrollIntoView();
      target.querySelector('summary').focus({ preventScroll: true });
    }
  }

  window.addEventListener('hashchange', openTarget);
  openTarget();

  document.addEventListener('click', function (e) {
    var link = e.target.closest('a');
    if (!link) { return; }
    if (link.classList.contains('place')) {
      var stage = stages[link.dataset.slab];
      if (!stage) { return; }
      e.preventDefault();
      if (link.dataset.piece) { pick(stage.slab, link.dataset.piece); }
      stage.mark(Number(link.dataset.x), Number(link.dataset.y));
      stage.slab.querySelector('.stage').scrollIntoView({ block: 'center', behavior: still() ? 'auto' : 'smooth' });
      stage.svg.focus({ preventScroll: true });
      say('The place is marked on the drawing of ' + stage.slab.querySelector('h3').textContent + '.');
    } else if (link.hash && link.hash === location.hash) {
      // The same link again changes no address, and is to work all the same.
      openTarget();
    }
  });
}());
