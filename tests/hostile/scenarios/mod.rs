//! Every scenario, by theme.

mod axial;
mod base;
mod beyond;
mod burrs;
mod coarse;
mod lean;
mod not_yet;
mod ordinary;
mod sense;
mod tips;

use super::world::Inspection;
use rand_pcg::Pcg64;

/// How the cards stand to the truth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cards {
    /// All that is true lies within what they say.
    Honest,
    /// Something lies beyond them that the readings can show.
    Beyond,
    /// Something lies beyond them that nothing in the readings can show.
    Hidden,
}

type Build = fn(&mut Pcg64) -> Inspection;

/// One kind of inspection.
#[derive(Clone, Copy)]
pub struct Scenario {
    pub theme: &'static str,
    pub name: &'static str,
    pub cards: Cards,
    /// Words of which a doubt, a reason or a warning has one where it tells of what is wrong.
    pub signs: &'static [&'static str],
    pub build: Build,
    /// An ordinary tool, which is not to stay undecided.
    pub decided: bool,
    /// Not within the bars yet, and why.
    pub open: Option<&'static str>,
}

impl Scenario {
    /// An ordinary tool: it must be decided.
    const fn decided(self) -> Self {
        Self {
            decided: true,
            ..self
        }
    }

    /// The words by which it is noticed, with honest cards.
    #[allow(dead_code)]
    const fn noticed(self, signs: &'static [&'static str]) -> Self {
        Self { signs, ..self }
    }
}

const fn honest(name: &'static str, build: Build) -> Scenario {
    Scenario {
        theme: "",
        name,
        cards: Cards::Honest,
        signs: &[],
        build,
        decided: false,
        open: None,
    }
}

const fn beyond(name: &'static str, signs: &'static [&'static str], build: Build) -> Scenario {
    Scenario {
        cards: Cards::Beyond,
        signs,
        ..honest(name, build)
    }
}

const fn hidden(name: &'static str, build: Build) -> Scenario {
    Scenario {
        cards: Cards::Hidden,
        ..honest(name, build)
    }
}

pub fn scenarios() -> Vec<Scenario> {
    let themes: [(&'static str, &[Scenario]); 8] = [
        ("ordinary tools", ordinary::ALL),
        ("burrs, ridges and nicks", burrs::ALL),
        ("edges and tips", tips::ALL),
        ("end faces and shoulders", axial::ALL),
        ("lean and runout", lean::ALL),
        ("turning sense", sense::ALL),
        ("few readings", coarse::ALL),
        ("beyond the cards", beyond::ALL),
    ];
    let all = themes.iter();
    let all = all.flat_map(|(theme, each)| each.iter().map(|one| Scenario { theme, ..*one }));
    all.map(|one| {
        let mut not_yet = not_yet::NOT_YET.iter();
        let open = not_yet.find(|(name, _)| *name == one.name);
        Scenario {
            open: open.map(|(_, note)| *note),
            ..one
        }
    })
    .collect()
}
