//! What finished grinds teach, beside a least squares that an optimiser finds from the likelihood alone.

use super::{ask, close};
use heelclear::setting::{BEFORE, Scales, Taught, learn};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use serde::Deserialize;
use serde_json::json;

#[derive(Deserialize)]
struct Found {
    values: Vec<f64>,
    uncertainties: Vec<f64>,
}

/// Grinds of different depths with these errors, read within half of what readings are good to.
fn grinds(random: &mut Pcg64Mcg, errors: [f64; 4]) -> Vec<Taught> {
    let mut rows = Vec::new();
    for record in 0..random.random_range(1..8) {
        let in_feed = random.random_range(0.03..0.4);
        for by in [
            [0.06, random.random_range(0.002..0.008), 0.0, 0.0],
            [0.4, random.random_range(-0.01..0.01), 0.0, 0.0],
            [0.01, 0.0, -2.0 * in_feed, 2.0],
        ] {
            let uncertainty = random.random_range(0.0005..0.004);
            let off: f64 = uncertainty * random.random_range(-0.5..0.5);
            rows.push(Taught {
                record,
                difference: (0..4).map(|of| by[of] * errors[of]).sum::<f64>() + off,
                uncertainty,
                by,
            });
        }
    }
    rows
}

#[test]
fn errors_of_settings_are_what_an_optimiser_finds() {
    let mut random = Pcg64Mcg::seed_from_u64(5);
    let scales = Scales {
        set: [0.003, 0.2, 0.02, 0.002],
        before: BEFORE,
    };
    for _ in 0..12 {
        let errors = [
            random.random_range(-0.06..0.06),
            random.random_range(-2.0..2.0),
            random.random_range(-0.1..0.1),
            random.random_range(0.0..0.02),
        ];
        let rows = grinds(&mut random, errors);
        let asked = json!({
            "records": rows.iter().map(|row| row.record).collect::<Vec<_>>(),
            "differences": rows.iter().map(|row| row.difference).collect::<Vec<_>>(),
            "uncertainties": rows.iter().map(|row| row.uncertainty).collect::<Vec<_>>(),
            "by": rows.iter().map(|row| row.by.to_vec()).collect::<Vec<_>>(),
            "set": scales.set,
            "before": scales.before,
        });
        let Some(found) = ask::<Found>("learnt", &asked) else {
            return;
        };
        let ours = learn(&rows, &scales).unwrap();
        for (of, ours) in ours.each.iter().enumerate() {
            let scale = scales.before[of];
            close("error", ours.0, found.values[of], 1e-4 * scale);
            // A wheel that would have to grow is taken to lose nothing, and no more is asked of it.
            if found.values[3] > 0.0 {
                close("u", ours.1, found.uncertainties[of], 1e-4 * scale);
            }
        }
    }
}
