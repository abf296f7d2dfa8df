//! What to set otherwise on the grinder, where a figure fails after a grind whose set-up is known.

use super::finished::{self, Finished};
use super::folder::Folder;
use crate::card::{Setting, Stage};
use crate::quantity::{COVERAGE_FACTOR, Length, told, with_uncertainty};
use crate::record::{
    CameOut, Characteristic, CutSetup, PredictedFigure, Record, SetOtherwise, SettingsAdvice,
    Verdict,
};
use crate::setting::{Learnt, TAUGHT};

/// The record with what to set otherwise, where figures fail or are undecided and its inspection names
/// the set-up that the tool was ground from. Another set-up than that is told among the warnings.
pub(super) fn with_settings(folder: &Folder, mut record: Record) -> Record {
    let after = folder.inspection.stage == Stage::AfterGrind;
    if !after || open(&record).next().is_none() {
        return record;
    }
    match finished::setup_of(folder) {
        Ok(None) => record,
        Ok(Some(setup)) => {
            let mut finished = Finished::of(folder, setup, record);
            let cuts = finished.setup.cuts.iter();
            let advice: Vec<_> = cuts.filter_map(|cut| advice(&finished, cut)).collect();
            finished.record.advise(advice);
            finished.record
        }
        Err(why) => {
            record.warnings.push(format!(
                "the set-up that the inspection card names tells nothing of the settings: {}",
                why.message()
            ));
            record
        }
    }
}

/// The figures that do not pass and on which no doubt sits: what settles a doubt comes first.
fn open(record: &Record) -> impl Iterator<Item = &Characteristic> {
    let doubtful = |it: &Characteristic| {
        record.doubts.iter().any(|doubt| {
            Some(&doubt.feature) == it.feature.as_ref()
                && (doubt.flute.is_none() || it.flute.is_none() || doubt.flute == it.flute)
                && (doubt.touches.is_empty() || doubt.touches.contains(&it.name))
        })
    };
    let open = |it: &&Characteristic| {
        matches!(it.verdict, Some(Verdict::Fail | Verdict::Undecided)) && it.value.is_some()
    };
    let all = record.characteristics.iter();
    all.filter(open).filter(move |it| !doubtful(it))
}

/// What one cut of the grind tells; nothing where all of its figures pass.
fn advice(of: &Finished, cut: &CutSetup) -> Option<SettingsAdvice> {
    let its = |it: &&Characteristic| {
        let feature = it.feature.as_ref();
        feature.is_some_and(|feature| cut.features.contains(feature))
    };
    let open: Vec<&Characteristic> = open(&of.record).filter(its).collect();
    let worst = open.iter().filter_map(|it| it.verdict);
    let verdict = worst.min_by_key(|it| *it != Verdict::Fail)?;
    let learnt = finished::learnt(&finished::of_cut(of, cut, 0), &[cut]);
    let corrects = learnt.as_ref().map_or([false; 4], Learnt::corrects);
    let figures: Vec<CameOut> = open
        .iter()
        .map(|it| came_out(of, cut, it, learnt.as_ref().map(|it| (it, corrects))))
        .collect();
    let explains = figures.iter().any(|it| it.explained);
    let set: Vec<SetOtherwise> = match &learnt {
        Some(learnt) if explains => otherwise(cut, learnt, corrects),
        _ => Vec::new(),
    };
    let together = learnt
        .as_ref()
        .is_some_and(|it| explains && !it.told.contains(&true));
    Some(SettingsAdvice {
        direction: cut.direction.clone(),
        fixture: cut.fixture.clone(),
        features: cut.features.clone(),
        verdict,
        explains,
        together,
        why: why(&figures),
        remedy: match explains {
            true => remedy(&set, together, &figures),
            false => cannot(learnt.as_ref(), corrects),
        },
        set,
        figures,
    })
}

/// A figure beside its prediction, and what it would come to with the settings corrected.
fn came_out(
    of: &Finished,
    cut: &CutSetup,
    it: &Characteristic,
    learnt: Option<(&Learnt, [bool; 4])>,
) -> CameOut {
    let predicted = of.setup.predicted.iter().find(|predicted| {
        Some(&predicted.feature) == it.feature.as_ref()
            && predicted.flute == it.flute
            && predicted.name == it.name
    });
    let then = predicted.zip(learnt).zip(it.value);
    let then = then.map(|((predicted, (learnt, corrects)), value)| {
        value - moved(cut, predicted, learnt, corrects)
    });
    CameOut {
        feature: it.feature.clone().unwrap_or_default(),
        flute: it.flute,
        name: it.name.clone(),
        unit: it.unit.clone(),
        verdict: it.verdict,
        predicted: predicted.map(|it| it.value),
        measured: it.value,
        standard_uncertainty: it.standard_uncertainty,
        explained: then.is_some_and(|then| mends(it, then)),
        then,
    }
}

/// How much of a figure is what its settings were off by, of those that are corrected.
fn moved(cut: &CutSetup, predicted: &PredictedFigure, learnt: &Learnt, corrects: [bool; 4]) -> f64 {
    let by = finished::by_the_scales(cut, predicted);
    let had = finished::had(cut);
    let each = (0..had.len()).filter(|of| corrects[*of]);
    each.map(|of| by[of] * (learnt.each[of].0 - had[of])).sum()
}

/// Whether a figure that fails would keep its limits, or an undecided one lie farther inside them.
fn mends(it: &Characteristic, then: f64) -> bool {
    let Some(limit) = it.limit else { return false };
    let inside = |value: f64| {
        let low = limit.min.map_or(f64::INFINITY, |min| value - min);
        let high = limit.max.map_or(f64::INFINITY, |max| max - value);
        low.min(high)
    };
    let now = it.value.map_or(f64::NEG_INFINITY, inside);
    // Less than its uncertainty would not be seen.
    let seen = it.standard_uncertainty.unwrap_or(0.0);
    inside(then) >= 0.0 && inside(then) > now + seen
}

/// What to set in place of what was, for the same as was predicted.
fn otherwise(cut: &CutSetup, learnt: &Learnt, corrects: [bool; 4]) -> Vec<SetOtherwise> {
    let had = finished::had(cut);
    // What a setting is off by, as far as that counts.
    let off = |of: usize| {
        if corrects[of] {
            learnt.each[of].0
        } else {
            had[of]
        }
    };
    let (feed, wear) = (1.0 + off(2), off(3));
    let all = TAUGHT.iter().enumerate().filter(|(of, _)| corrects[*of]);
    let each = all.filter_map(|(of, setting)| {
        let (error, u) = learnt.each[of];
        let (came_to, u, was, set) = match setting {
            Setting::ThrowGain => {
                let throw = cut.throw_mm * (1.0 + had[of]) / (1.0 + error);
                (1.0 + error, u, cut.throw_mm, throw)
            }
            Setting::CamAngle => {
                let cam = (cut.cam_angle_deg + had[of] - error).rem_euclid(360.0);
                (error, u, cut.cam_angle_deg, cam)
            }
            // The slide and the wheel share one line: both are made up for by the in-feed.
            Setting::WheelWear if corrects[2] => return None,
            _ => {
                let skim = cut.skim_sure_mm;
                let stock = skim * (1.0 + had[2]) - had[3];
                let u_of = |of: usize| if corrects[of] { learnt.each[of].1 } else { 0.0 };
                let u = u_of(2).hypot(u_of(3) / skim.max(1e-6));
                (feed - wear / skim.max(1e-6), u, skim, (stock + wear) / feed)
            }
        };
        let angle = *setting == Setting::CamAngle;
        Some(SetOtherwise {
            setting: match setting {
                Setting::WheelWear => Setting::Feed,
                other => *other,
            }
            .as_str()
            .to_owned(),
            came_to,
            standard_uncertainty: u,
            was,
            set,
            unit: if angle { "deg" } else { "mm" }.to_owned(),
        })
    });
    each.collect()
}

fn of_mm(mm: f64, decimals: i32) -> told::Told {
    told::mm(Length::from_mm(mm), decimals)
}

/// A figure's value as people read it.
fn shown(value: f64, u: Option<f64>, unit: &str) -> String {
    match unit {
        "deg" => format!("{value:.2}°"),
        _ => {
            let value = Length::from_mm(value);
            let u = Length::from_mm(u.unwrap_or(0.001));
            told::rounded_um(value, u).to_string()
        }
    }
}

fn named(it: &CameOut) -> String {
    match it.flute {
        Some(flute) => format!("{} of `{}` flute {flute}", it.name, it.feature),
        None => format!("{} of `{}`", it.name, it.feature),
    }
}

/// How the figures came out, the one that is farthest off its prediction first and told in numbers.
fn why(figures: &[CameOut]) -> String {
    let off = |it: &CameOut| match (it.predicted, it.measured) {
        (Some(predicted), Some(measured)) => {
            (measured - predicted).abs() / it.standard_uncertainty.unwrap_or(1.0).max(1e-9)
        }
        _ => -1.0,
    };
    let farthest = figures.iter().max_by(|one, other| {
        (one.explained, off(one))
            .partial_cmp(&(other.explained, off(other)))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    let Some(it) = farthest else {
        return String::new();
    };
    let u = it.standard_uncertainty;
    let told = match (it.predicted, it.measured) {
        (Some(predicted), Some(measured)) => format!(
            "{} came out {} for {} predicted",
            named(it),
            shown(measured, u, &it.unit),
            shown(predicted, u, &it.unit)
        ),
        _ => format!("nothing was predicted of {}", named(it)),
    };
    match figures.len() - 1 {
        0 => told,
        more => format!(
            "{told}; and {more} more that {} not pass",
            if more == 1 { "does" } else { "do" }
        ),
    }
}

fn remedy(set: &[SetOtherwise], together: bool, figures: &[CameOut]) -> String {
    let each: Vec<String> = set.iter().map(in_words).collect();
    let lead = match together {
        true => {
            "one grind cannot tell throw, cam angle and feed apart; all together they make up for it: "
        }
        false => "",
    };
    let mut text = format!("{lead}{}", each.join("; "));
    let mended = figures.iter().find(|it| it.explained);
    if let Some((it, then)) = mended.and_then(|it| Some((it, it.then?))) {
        text += &format!(
            "; {} then comes to {}",
            named(it),
            shown(then, it.standard_uncertainty, &it.unit)
        );
    }
    let rest: Vec<String> = figures
        .iter()
        .filter(|it| !it.explained)
        .map(named)
        .collect();
    if !rest.is_empty() {
        text += &format!("; settings do not explain {}", some(&rest));
    }
    text + "; `setting learn --keep` puts it on the grinder's card for the next set-up"
}

/// The first few of many.
fn some(each: &[String]) -> String {
    const TOLD: usize = 3;
    match each.len().saturating_sub(TOLD) {
        0 => each.join(", "),
        more => format!("{} and {more} more", each[..TOLD].join(", ")),
    }
}

fn in_words(it: &SetOtherwise) -> String {
    let came_to = with_uncertainty(it.came_to, it.standard_uncertainty * COVERAGE_FACTOR);
    match it.setting.as_str() {
        "throw-gain" => format!(
            "the throw gave {came_to} of what its scale shows: set {} on the scale in place of {}",
            of_mm(it.set, 3),
            of_mm(it.was, 3)
        ),
        "cam-angle" => {
            let turn = (it.set - it.was + 180.0).rem_euclid(360.0) - 180.0;
            format!(
                "the cam stands {came_to}° ahead of its scale: cam angle {turn:+.1}°, {:.1}° in place of {:.1}° as the tool was clamped",
                it.set, it.was
            )
        }
        _ => format!(
            "{came_to} of the in-feed came off: feed {} for as much as {} was to take",
            of_mm(it.set, 3),
            of_mm(it.was, 3)
        ),
    }
}

/// Why nothing of the settings is told.
fn cannot(learnt: Option<&Learnt>, corrects: [bool; 4]) -> String {
    match learnt {
        None => "the settings cannot explain it: nothing that they move was both predicted and measured",
        Some(it) if it.strange => "the settings cannot explain it: scales are not so far off. Was the tool ground from this set-up, and measured as it was clamped?",
        Some(_) if corrects.contains(&true) => "the settings cannot explain it: what they are off by does not move this figure back inside its limits",
        Some(_) => "the settings cannot explain it: throw, cam angle and in-feed came out as they were set, within what one grind tells",
    }
    .to_owned()
}
