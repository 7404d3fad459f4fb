//! The same box with one wire left off must not get through.

use own_crate::TableBox;
use sprag::controller::Controller;
use sprag::own_build::{NotRun, test};
use sprag::signal::{Answer, Inputs, Output};

/// The box with the driver's tap wires not connected.
struct TapsUnwired(TableBox);

impl Controller for TapsUnwired {
    fn reset(&mut self) {
        self.0.reset();
    }

    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Output {
        let deaf = Inputs { tap_up: false, tap_down: false, tap_up_edges: 0, tap_down_edges: 0, ..*inputs };
        self.0.step(&deaf, answers)
    }
}

#[test]
fn a_box_that_misses_the_drivers_tap_is_caught() -> Result<(), NotRun> {
    let make = |spec: &_| -> Box<dyn Controller> { Box::new(TapsUnwired(TableBox::new(spec))) };
    let ran = test("../../specs/van.toml", "taps unwired", make).random(20).run()?;
    assert!(ran.broken().contains(&"driver's tap wins"), "{}", ran.screen());
    assert!(std::panic::catch_unwind(|| ran.assert_kept()).is_err());
    let moment = ran.report.moments.iter().find(|m| m.broken.iter().any(|b| b.card.name == "driver's tap wins"));
    let file = moment.map(|m| ran.folder.join("drives").join(&m.file)).expect("a failing moment");
    assert!(file.is_file(), "{} is not there", file.display());
    Ok(())
}
