//! What a maker writes beside the controller: a dozen lines.

use own_crate::TableBox;
use sprag::own_build::{NotRun, test};

#[test]
fn my_box_keeps_the_rules() -> Result<(), NotRun> {
    let ran = test("../../specs/van.toml", "table box", |spec| Box::new(TableBox::new(spec))).random(300).run()?;
    ran.assert_kept();
    Ok(())
}
