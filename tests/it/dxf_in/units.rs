//! The unit of a drawing.

use scantling::diag::{Kind, Severity};
use scantling::io::drawn::{self, Request};
use scantling::units::Unit;

use super::{Draft, close, one, request, see, see_with};

#[test]
fn the_header_names_the_unit() {
    for (code, mm) in [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0)] {
        let seen = see(&Draft::new().unit(code).rectangle("0", [0.0, 0.0], [3.0, 2.0]));
        close(one(&seen).area, 6.0 * mm * mm, 1e-6 * mm * mm);
    }
}

#[test]
fn a_drawing_without_a_unit_is_refused_unless_one_is_given() {
    for draft in [Draft::new(), Draft::new().unit(0), Draft::new().unit(13)] {
        let draft = draft.rectangle("0", [0.0, 0.0], [20.0, 10.0]);
        let error = drawn::see("a.dxf", draft.file().as_bytes(), &request()).unwrap_err().0.remove(0);
        assert!(error.what == Kind::DrawingUnit && error.fix.contains("units ="), "{error}");
        let seen = see_with(&draft, &Request { unit: Some(Unit::In), ..request() });
        close(one(&seen).area, 200.0 * 25.4 * 25.4, 1e-6);
        assert!(seen.remarks.is_empty());
    }
}

#[test]
fn a_unit_that_differs_from_the_header_is_a_warning() {
    let draft = Draft::mm().rectangle("0", [0.0, 0.0], [20.0, 10.0]);
    let seen = see_with(&draft, &Request { unit: Some(Unit::Cm), ..request() });
    close(one(&seen).area, 20_000.0, 1e-6);
    assert_eq!((seen.remarks.len(), seen.remarks[0].severity), (1, Severity::Warning));
}
