//! The box shifts where its map says, measured on the rolling road.

use own_crate::TableBox;
use sprag::controller::Controller;
use sprag::controller::in_process::InProcess;
use sprag::shift_points::{Options, measure, table};
use sprag::spec::{Spec, load};
use std::path::Path;
use std::sync::atomic::AtomicBool;

#[test]
fn the_box_follows_its_map() {
    let van = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../../specs/van.toml"));
    let spec = load(van).expect("the van's spec reads");
    let source = InProcess("table box".into(), |spec: &Spec| Box::new(TableBox::new(spec)) as Box<dyn Controller>);
    let options = Options { jobs: 2, ..Options::default() };
    let measured = measure(&spec, &source, &options, &AtomicBool::new(false), &mut |_, _| {}).expect("it starts");
    let screen = table(&spec, &measured);
    assert_eq!(measured.exit(&spec) as u8, 0, "{screen}");
}
