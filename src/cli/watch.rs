//! Clock, Ctrl-C and progress bar: what the search may know of the world.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::search::{Progress, Watch};

/// Stops at a time or at Ctrl-C, and shows how far the search is.
#[derive(Debug)]
pub struct Console {
    deadline: Option<Instant>,
    interrupted: Arc<AtomicBool>,
    bar: ProgressBar,
}

impl Console {
    /// A watch with an optional time limit; the bar shows only on a terminal, and never if `quiet`.
    #[must_use]
    pub fn new(seconds: Option<f64>, rounds: Option<u64>, quiet: bool) -> Self {
        let interrupted = Arc::new(AtomicBool::new(false));
        let flag = Arc::clone(&interrupted);
        // Without a handler (a second one in the same process) Ctrl-C simply ends the program: no harm to any file.
        let _ = ctrlc::set_handler(move || flag.store(true, Ordering::Relaxed));
        #[expect(clippy::disallowed_methods, reason = "the one clock of the program")]
        let now = Instant::now();
        let deadline = seconds.and_then(|s| now.checked_add(Duration::from_secs_f64(s)));
        let target = if quiet { ProgressDrawTarget::hidden() } else { ProgressDrawTarget::stderr_with_hz(8) };
        let bar = match rounds {
            Some(n) => ProgressBar::with_draw_target(Some(n), target),
            None => ProgressBar::with_draw_target(None, target),
        };
        let style =
            if rounds.is_some() { "{bar:30} round {pos} of {len}  {msg}" } else { "{spinner} round {pos}  {msg}" };
        bar.set_style(ProgressStyle::with_template(style).unwrap_or_else(|_| ProgressStyle::default_bar()));
        Self { deadline, interrupted, bar }
    }

    /// Takes the bar off the screen.
    pub fn finish(&self) {
        self.bar.finish_and_clear();
    }
}

impl Watch for Console {
    fn stop(&self) -> bool {
        #[expect(clippy::disallowed_methods, reason = "the one clock of the program")]
        let late = || self.deadline.is_some_and(|d| Instant::now() >= d);
        self.interrupted.load(Ordering::Relaxed) || late()
    }

    fn tell(&self, p: &Progress) {
        self.bar.set_position(p.round);
        let missing = if p.missing > 0 { format!(", {} without a place", p.missing) } else { String::new() };
        self.bar.set_message(format!("cost {:.2}, bound {:.2}{missing}", p.best.cost, p.bound));
    }
}
