//! Quantiles, an analysis of variance and a propagation of distributions.

use super::{ask, close};
use crate::distribution::Distribution;
use crate::traces;
use heelclear::fit::relief::flat_drop;
use heelclear::judge::{Tolerance, Trials, propagate};
use heelclear::numeric::quantile;
use heelclear::quantity::{Angle, Length};
use heelclear::record::{Record, Trend};
use heelclear::shape::runout;
use heelclear::study::{Anova, read_table};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use serde::Deserialize;
use serde_json::json;
use std::f64::consts::TAU;

#[test]
fn quantiles_are_those_of_scipy() {
    let probabilities = [0.001, 0.025, 0.05, 0.3, 0.5, 0.9, 0.95, 0.975, 0.995];
    let freedoms = [1.0, 2.0, 3.0, 4.0, 9.0, 16.0, 59.0, 500.0];
    let pairs: Vec<[f64; 2]> = probabilities
        .iter()
        .flat_map(|p| freedoms.map(|free| [*p, free]))
        .collect();
    let ratios = [[0.434, 18.0, 60.0], [3.5, 2.0, 9.0], [1.0, 5.0, 5.0]];
    #[derive(Deserialize)]
    struct Answer {
        normal: Vec<f64>,
        student_t: Vec<f64>,
        chi_square: Vec<f64>,
        fisher_above: Vec<f64>,
    }
    let cases = json!({
        "normal": probabilities,
        "student_t": pairs,
        "chi_square": pairs,
        "fisher_above": ratios,
    });
    let Some(answer) = ask::<Answer>("quantiles", &cases) else {
        return;
    };
    for (p, theirs) in probabilities.iter().zip(&answer.normal) {
        close("normal", quantile::normal(*p).unwrap(), *theirs, 1e-10);
    }
    let with_freedom = pairs.iter().zip(&answer.student_t).zip(&answer.chi_square);
    for (([p, free], student), chi) in with_freedom {
        let ours = quantile::student_t(*p, *free).unwrap();
        close("Student's t", ours, *student, 1e-8 * student.abs().max(1.0));
        let ours = quantile::chi_square(*p, *free).unwrap();
        close("chi square", ours, *chi, 1e-8 * chi.max(1.0));
    }
    for ([ratio, above, below], theirs) in ratios.iter().zip(&answer.fisher_above) {
        let ours = quantile::fisher_above(*ratio, *above, *below).unwrap();
        close("Fisher's F", ours, *theirs, 1e-10);
    }
}

/// Only what a trend reads of it is more than a form filled in.
fn regrind(diameter_mm: f64) -> Record {
    let record = json!({
        "schema": "heelclear.verdict/1", "tool": "VB-07", "verdict": null,
        "characteristics": [], "flutes": [], "warnings": [],
        "about": {
            "program": "", "tool_name": "", "hand": "right", "flutes": 1, "taken": "",
            "operator": "", "stage": "after-grind", "interrupted": false, "confidence": 0.95,
            "gauge": [], "assumptions": [], "history": [],
        },
        "features": [{
            "feature": "seat", "surface": "radial", "diameter_mm": diameter_mm,
            "check_distance_mm": 0.5, "check_deg": 3.0, "limits": {},
        }],
    });
    Record::from_json(&record.to_string(), "made").unwrap()
}

#[test]
fn the_line_through_regrinds_has_the_band_of_least_squares() {
    #[derive(Deserialize)]
    struct Answer {
        line: Vec<f64>,
        low: Vec<f64>,
        high: Vec<f64>,
    }
    let at = [0.0, 1.5, 4.0, 7.0, 12.0];
    for diameters in [
        vec![20.0, 19.79, 19.62],
        vec![20.0, 19.91, 19.79, 19.7, 19.62],
        vec![
            12.7, 12.61, 12.6, 12.44, 12.41, 12.33, 12.2, 12.18, 12.05, 12.0,
        ],
    ] {
        let case = json!({ "diameters_mm": diameters, "at": at });
        let Some(answer) = ask::<Answer>("regrinds", &case) else {
            return;
        };
        let records = diameters.iter().map(|mm| (String::new(), regrind(*mm)));
        let trends = Trend::of(&records.collect::<Vec<_>>(), None);
        let outlook = trends[0].outlook.unwrap();
        for (index, at) in at.into_iter().enumerate() {
            let [low, high] = outlook.band_mm(at).unwrap();
            close("the line", outlook.line_mm(at), answer.line[index], 1e-11);
            close("its lower end", low, answer.low[index], 1e-8);
            close("its upper end", high, answer.high[index], 1e-8);
        }
    }
}

#[test]
fn the_runout_of_a_round_is_the_one_of_linear_least_squares() {
    let mut random = Pcg64Mcg::seed_from_u64(4);
    let places: Vec<[f64; 2]> = (0..720)
        .map(|i| TAU * f64::from(i) / 720.0)
        .map(|angle| {
            let noise = 0.001 * (random.random::<f64>() - 0.5);
            [angle, 0.3 + 0.012 * (angle - 1.1).cos() + noise]
        })
        .collect();
    let Some([x, y, mean]) = ask::<[f64; 3]>("runout", &json!(places)) else {
        return;
    };
    let places = places
        .iter()
        .map(|[angle, reading]| (Angle::from_rad(*angle), Length::from_mm(*reading)));
    let merged = traces::merged(places, Angle::TURN / 720.0, Length::from_um(0.3));
    let ours = runout(&merged, None, Length::ZERO).unwrap();
    assert!(ours.left_out.is_empty());
    // Ours weighs places that stand off a little less: a small part of its own uncertainty.
    let within = 0.3 * ours.added_uncertainty(Angle::ZERO).mm();
    close("x", ours.axis.x.mm(), x, within);
    close("y", ours.axis.y.mm(), y, within);
    close("mean", ours.mean.mm(), mean, within);
}

#[test]
fn the_crossed_study_has_the_sums_of_squares_of_nested_linear_models() {
    let text = include_str!("../../reference/msa_crossed_10x3x3.csv");
    let table = read_table(text.as_bytes(), "msa_crossed_10x3x3.csv").unwrap();
    let each = table.operators.len() * table.trials;
    let labels =
        |of: &dyn Fn(usize) -> usize| -> Vec<usize> { (0..table.values.len()).map(of).collect() };
    #[derive(Deserialize)]
    struct Answer {
        parts: f64,
        operators: f64,
        interaction: f64,
        repeatability: f64,
    }
    let case = json!({
        "values": table.values,
        "parts": labels(&|at| at / each),
        "operators": labels(&|at| at % each / table.trials),
    });
    let Some(theirs) = ask::<Answer>("crossed", &case) else {
        return;
    };
    let ours = Anova::new(&table);
    let check = |what, ours: heelclear::study::Source, theirs| {
        close(what, ours.sum_of_squares, theirs, 1e-11);
    };
    check("parts", ours.parts, theirs.parts);
    check("operators", ours.operators, theirs.operators);
    check("interaction", ours.interaction, theirs.interaction);
    check("repeatability", ours.repeatability, theirs.repeatability);
}

#[test]
fn drawn_inputs_spread_a_drop_as_numpy_spreads_it() {
    #[derive(Deserialize)]
    struct Answer {
        mean: f64,
        u: f64,
        interval: [f64; 2],
    }
    const TRIALS: usize = 1_000_000;
    let case = json!({
        "trials": TRIALS,
        "radius_mm": [4.8, 5.2],
        "relief_deg": [8.0, 1.0],
        "check_mm": [0.5, 0.03],
    });
    let Some(theirs) = ask::<Answer>("monte_carlo", &case) else {
        return;
    };
    let radius = Distribution::rectangular(4.8, 5.2).unwrap();
    let relief = Distribution::normal(8.0, 1.0).unwrap();
    let check = Distribution::normal(0.5, 0.03).unwrap();
    let trials = Trials {
        most: TRIALS,
        ..Trials::default()
    };
    let propagated = propagate(
        &[Tolerance::Absolute(0.0)],
        trials,
        || (),
        |(), random, out| {
            let radius = Length::from_mm(radius.draw(random));
            let arc = Angle::from_rad(Length::from_mm(check.draw(random)) / radius);
            out[0] = flat_drop(Angle::from_deg(relief.draw(random)), arc, radius).mm();
        },
    );
    let ours = propagated.quantities[0].as_ref().unwrap();
    // Both are drawn: means scatter by u/1000, ends by some u/400.
    let interval = ours.symmetric_interval(0.95);
    close("mean", ours.mean(), theirs.mean, theirs.u / 200.0);
    close("u", ours.standard_uncertainty(), theirs.u, theirs.u / 200.0);
    close("low end", interval[0], theirs.interval[0], theirs.u / 80.0);
    close("high end", interval[1], theirs.interval[1], theirs.u / 80.0);
}
