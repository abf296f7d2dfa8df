//! A fit that begins where another ended.

use super::lands::*;
use heelclear::card::Surface;
use heelclear::fit::{FitSettings, fit};
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;

#[test]
fn a_warm_start_leads_to_the_same_curve() {
    let mut random = Pcg64Mcg::seed_from_u64(33);
    for (truth, end) in examples(Surface::Axial) {
        let land =
            Sampled::of(&truth, end, 200, um(1.0)).with(&noise(200, um(1.0), 0.0, &mut random));
        let cold = fit_as(&truth, &land.land()).unwrap();
        let settings = FitSettings {
            start: Some(truth),
            ..FitSettings::default()
        };
        let warm = fit(&land.land(), truth.family(), &settings).unwrap();
        let u = cold.relief_behind_margin().standard_uncertainty;
        let apart = warm.relief_behind_margin().value - cold.relief_behind_margin().value;
        assert!(
            apart.abs() < u * 0.05,
            "{truth:?}: {} of {}",
            apart.deg(),
            u.deg()
        );
    }
}
