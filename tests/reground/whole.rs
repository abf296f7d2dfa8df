//! One tool from its traces before the grind to what the grind left of it.

use super::kinds::{Kind, exact};
use heelclear::card::GrinderCard;
use heelclear::inspection::grind::{Asked, Predicted, face, set_up};
use heelclear::inspection::simulated::{settings, write_folder};
use heelclear::inspection::{Folder, verify};
use heelclear::quantity::{Angle, Length};
use heelclear::record::{CutSetup, PredictedFigure, Record, Setup, Verdict};
use heelclear::simulator::{Ground, Scenario, ToothTruth, Touched};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

/// What came of one tool.
pub struct Done {
    seed: u64,
    pub end: End,
}

pub enum End {
    /// There was no set-up, for these reasons.
    Refused {
        verdict: Option<Verdict>,
        why: Vec<String>,
    },
    /// It was ground.
    Ground {
        cuts: Vec<Cut>,
        figures: Vec<Figure>,
    },
    /// An error, or a panic.
    Broken(String),
}

/// One direction of in-feed.
pub struct Cut {
    pub direction: String,
    pub printed_mm: f64,
    pub computed_mm: f64,
    pub uncertainty_mm: f64,
    pub step_mm: f64,
    pub least_mm: f64,
    pub unclean: Vec<String>,
}

impl Cut {
    /// Whether the skim that was printed is near enough to the least that would have done.
    pub fn is_thrifty(&self) -> bool {
        self.printed_mm <= 1.3 * self.least_mm + 2.0 * self.uncertainty_mm + self.step_mm
    }
}

/// A predicted figure and what it came to.
pub struct Figure {
    pub name: String,
    pub place: String,
    pub value: f64,
    pub u: f64,
    pub interval: [f64; 2],
    pub truth: f64,
}

impl Figure {
    pub fn holds(&self) -> bool {
        (self.interval[0]..=self.interval[1]).contains(&self.truth)
    }
}

impl Done {
    /// What somebody who mends the program wants to know.
    pub fn told(&self) -> Vec<String> {
        let seed = self.seed;
        match &self.end {
            End::Broken(why) => vec![format!("grind {seed}: {why}")],
            End::Refused { verdict, why } => {
                vec![format!(
                    "grind {seed}: no set-up ({verdict:?}): {}",
                    why.join("; ")
                )]
            }
            End::Ground { cuts, figures } => {
                let mut told = Vec::new();
                for cut in cuts {
                    let skim = format!(
                        "grind {seed}, {}: printed {:.4} (computed {:.4}, u {:.4}), least {:.4}",
                        cut.direction,
                        cut.printed_mm,
                        cut.computed_mm,
                        cut.uncertainty_mm,
                        cut.least_mm
                    );
                    if !cut.unclean.is_empty() {
                        told.push(format!("{skim}: old at {}", cut.unclean.join("; ")));
                    }
                    if !cut.is_thrifty() {
                        told.push(format!("{skim}: far more than the least"));
                    }
                }
                let off = figures.iter().filter(|figure| !figure.holds());
                told.extend(off.map(|it| {
                    format!(
                        "grind {seed}, {} {}: {:.4} in {:.4} to {:.4} (u {:.4}), true is {:.4}",
                        it.place, it.name, it.value, it.interval[0], it.interval[1], it.u, it.truth
                    )
                }));
                told
            }
        }
    }

    /// The figures of each name.
    pub fn figures_by_name(&self) -> BTreeMap<String, Vec<&Figure>> {
        let mut by_name: BTreeMap<String, Vec<&Figure>> = BTreeMap::new();
        if let End::Ground { figures, .. } = &self.end {
            for figure in figures {
                by_name.entry(figure.name.clone()).or_default().push(figure);
            }
        }
        by_name
    }
}

/// From the worn tool to the ground one.
pub fn grind(kind: &Kind, seed: u64) -> Done {
    let end = match catch_unwind(AssertUnwindSafe(|| whole(kind, seed))) {
        Ok(end) => end,
        Err(_) => End::Broken("it panicked".to_owned()),
    };
    Done { seed, end }
}

fn whole(kind: &Kind, seed: u64) -> End {
    let worn = kind.worn(seed);
    if kind.on_face {
        return match on_the_face(kind, seed, worn) {
            Ok((_, cut, figures)) => End::Ground {
                cuts: vec![cut],
                figures,
            },
            Err(why) => End::Refused {
                verdict: Some(Verdict::Undecided),
                why,
            },
        };
    }
    let setup = match set_up_for(kind, seed, &worn) {
        Ok(setup) => setup,
        Err(why) => return End::Broken(why),
    };
    if setup.cuts.is_empty() {
        return End::Refused {
            verdict: setup.verdict,
            why: setup.why,
        };
    }
    let (tool, cuts) = ground(worn, &setup, seed);
    // What is old still is not what was predicted; that it is old is counted.
    let clean = cuts.iter().all(|cut| cut.unclean.is_empty());
    let figures = if clean {
        figures(&setup, &tool)
    } else {
        Vec::new()
    };
    End::Ground { cuts, figures }
}

/// A tool of a kind as the grind leaves it, where that left nothing old.
pub fn reground(kind: &Kind, seed: u64) -> Option<Scenario> {
    let worn = kind.worn(seed);
    if kind.on_face {
        let (tool, cut, _) = on_the_face(kind, seed, worn).unwrap();
        return cut.unclean.is_empty().then_some(tool);
    }
    let setup = set_up_for(kind, seed, &worn).unwrap();
    let (tool, cuts) = ground(worn, &setup, seed);
    let clean = !cuts.is_empty() && cuts.iter().all(|cut| cut.unclean.is_empty());
    clean.then_some(tool)
}

/// The record of an inspection of a tool.
pub fn measured(tool: &Scenario) -> Record {
    let dir = tempfile::tempdir().unwrap();
    write_folder(tool, dir.path()).unwrap();
    verify(&Folder::open(dir.path()).unwrap()).unwrap()
}

/// The least turn that the index of the simulated bench can be set by.
pub const INDEX: f64 = 0.05;

/// Measured, and ground on the faces as the program says; else why it does not say anything.
pub fn on_the_face(
    kind: &Kind,
    seed: u64,
    worn: Scenario,
) -> Result<(Scenario, Cut, Vec<Figure>), Vec<String>> {
    let dir = tempfile::tempdir().unwrap();
    let path = folder_for(kind, seed, dir.path());
    write_folder(&worn, &path).unwrap();
    std::fs::write(path.join("recipe.txt"), toml::to_string(&worn).unwrap()).unwrap();
    let index = Angle::from_deg(INDEX);
    let plan = face(&Folder::open(&path).unwrap(), Some(index)).unwrap();
    let [found] = plan.features.as_slice() else {
        return Err(plan.why);
    };
    let mut hand = Pcg64::seed_from_u64(seed ^ 0x6861_6e64);
    let by_hand = match exact() {
        true => 0.0,
        false => hand.random_range(-0.5..0.5),
    };
    let at = worn.ground_on_the_face().unwrap();
    let ground = worn
        .grind_faces(at, found.face.sure + index * by_hand, index)
        .unwrap();
    let radius = worn.feature[at].true_diameter_mm() / 2.0;
    let along = |angle: Angle| angle.rad() * radius;
    let cut = Cut {
        direction: "face".to_owned(),
        printed_mm: along(found.face.sure),
        computed_mm: along(found.face.turn),
        uncertainty_mm: along(found.face.standard_uncertainty),
        step_mm: along(index),
        least_mm: along(ground.least),
        unclean: old_places(&ground.unclean),
    };
    let tool = ground.tool;
    let truth = tool.truth(at).unwrap();
    let mut teeth: Vec<ToothTruth> = truth.teeth;
    teeth.sort_by(|a, b| a.edge.deg().total_cmp(&b.edge.deg()));
    let figure = |name: &str, place: String, of: &Predicted, truth: f64| Figure {
        name: name.to_owned(),
        place,
        value: of.value,
        u: of.standard_uncertainty,
        interval: of.interval(),
        truth,
    };
    let diameter = found.diameter.as_ref().unwrap();
    let mut figures = vec![figure(
        "diameter",
        found.feature.clone(),
        diameter,
        tool.feature[at].true_diameter_mm(),
    )];
    let reliefs = found.relief.iter().zip(&teeth).enumerate();
    figures.extend(reliefs.map(|(flute, (of, truth))| {
        let place = format!("{} {}", found.feature, flute + 1);
        figure("relief-angle", place, of, truth.relief_angle.deg())
    }));
    // What is worn still is not what was predicted; that it is worn is counted.
    if !cut.unclean.is_empty() {
        figures.clear();
    }
    Ok((tool, cut, figures))
}

/// Where the folder of a tool is written: where somebody wants to keep it, or for a while.
fn folder_for(kind: &Kind, seed: u64, dir: &Path) -> std::path::PathBuf {
    let kept = std::env::var_os("HEELCLEAR_GRINDS_KEEP");
    kept.map_or_else(
        || dir.to_owned(),
        |kept| {
            let name = kind.name.replace([' ', ','], "-");
            Path::new(&kept).join(name).join(seed.to_string())
        },
    )
}

/// Measured, and what the program would set.
fn set_up_for(kind: &Kind, seed: u64, worn: &Scenario) -> Result<Setup, String> {
    let dir = tempfile::tempdir().unwrap();
    let path = folder_for(kind, seed, dir.path());
    write_folder(worn, &path).unwrap();
    std::fs::write(path.join("recipe.txt"), toml::to_string(worn).unwrap()).unwrap();
    let folder = Folder::open(&path).unwrap();
    let text = std::fs::read_to_string(path.join("grinder.toml")).unwrap();
    let grinder = GrinderCard::parse(&text, "grinder.toml").unwrap();
    let setup = set_up(&folder, &grinder, &Asked::default());
    setup.map_err(|error| error.message().to_owned())
}

/// Every direction ground after the other.
pub fn ground(worn: Scenario, setup: &Setup, seed: u64) -> (Scenario, Vec<Cut>) {
    let mut hand = Pcg64::seed_from_u64(seed ^ 0x6861_6e64);
    let mut tool = worn;
    let mut cuts = Vec::new();
    for cut in &setup.cuts {
        let set = settings(&tool, cut).unwrap();
        let ground = match exact() {
            true => tool.grind(&set),
            false => tool.grind_by_hand(&set, &mut hand),
        };
        let ground = ground.unwrap();
        cuts.push(done(&ground, cut));
        tool = ground.tool;
    }
    (tool, cuts)
}

/// What is old still, a sentence each.
fn old_places(unclean: &[Touched]) -> Vec<String> {
    let old = unclean.iter().map(|it| {
        format!(
            "flute {} of feature {}, {:.2}° behind its edge, {:.4} mm deep",
            it.tooth + 1,
            it.feature + 1,
            it.behind.deg(),
            it.depth.mm()
        )
    });
    old.collect()
}

fn done(ground: &Ground, cut: &CutSetup) -> Cut {
    Cut {
        direction: cut.direction.clone(),
        printed_mm: cut.skim_sure_mm,
        computed_mm: cut.skim_mm,
        uncertainty_mm: cut.skim_uncertainty_mm,
        step_mm: cut.step_mm.unwrap_or(0.0),
        least_mm: ground.least.mm(),
        unclean: old_places(&ground.unclean),
    }
}

/// Every predicted figure of which the simulator knows the truth.
fn figures(setup: &Setup, tool: &Scenario) -> Vec<Figure> {
    let each = setup.predicted.iter();
    let known = each.filter_map(|predicted| {
        let place = match predicted.flute {
            Some(flute) => format!("{} {flute}", predicted.feature),
            None => predicted.feature.clone(),
        };
        Some(Figure {
            truth: truth(predicted, tool)?,
            name: predicted.name.clone(),
            place,
            value: predicted.value,
            u: predicted.standard_uncertainty,
            interval: predicted.interval,
        })
    });
    known.collect()
}

fn truth(predicted: &PredictedFigure, tool: &Scenario) -> Option<f64> {
    let mut features = tool.feature.iter();
    let at = features.position(|feature| feature.name == predicted.feature)?;
    let truth = tool.truth(at)?;
    let Some(flute) = predicted.flute else {
        return match predicted.name.as_str() {
            "edge-spread" => Some(truth.edge_spread.mm()),
            "diameter" => Some(tool.feature[at].true_diameter_mm()),
            _ => None,
        };
    };
    // Flutes are counted by their angle on the encoder.
    let mut teeth: Vec<ToothTruth> = truth.teeth;
    teeth.sort_by(|a, b| a.edge.deg().total_cmp(&b.edge.deg()));
    let tooth = teeth.get(flute as usize - 1)?;
    match predicted.name.as_str() {
        "relief-angle" => Some(tooth.relief_angle.deg()),
        "drop" => tooth.drop.map(Length::mm),
        "heel-clearance" => tooth.heel_clearance.map(Length::mm),
        "total-relief" => Some(tooth.total_relief.mm()),
        _ => None,
    }
}
