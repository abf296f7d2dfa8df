//! The dial for the hand on the throw: what should stand still while a land is ridden on in an engaged
//! fixture, and what to change until it does.

use crate::card::Role;
use crate::error::{Code, Error, Result};
use crate::inspection::Folder;
use crate::inspection::capture::Wanted;
use crate::inspection::grind::{self, Aim, Standing, WantedBy};
use crate::quantity::{Angle, Length};
use crate::setting::swept;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

/// Places of the turn that are told apart: half a degree each.
const PLACES: usize = 720;
/// How the fixture stands is worked out anew after so much turning.
const ANEW: Angle = Angle::from_rad(3.0 / 180.0 * std::f64::consts::PI);
/// The most turning that is looked back on.
const MOST: Angle = Angle::TURN;
/// The least.
const LEAST: Angle = Angle::from_rad(std::f64::consts::FRAC_PI_3);

/// The dial of one trace.
#[derive(Clone, Debug)]
pub struct Dial {
    /// What the fixture is set by.
    pub aim: Arc<Aim>,
    /// Where that comes from.
    pub wanted: WantedBy,
    /// What stands still once everything is right, from its middle; nothing off the lands.
    pub value: Option<Length>,
    /// From its least to its greatest over the land that was turned past last.
    pub moves: Option<Length>,
    /// How the fixture stands; nothing until enough of a land was turned past since it was changed.
    pub standing: Option<Standing>,
    places: Vec<Option<Place>>,
    travel: Angle,
    last: Option<Angle>,
    looked_at: Option<Angle>,
    middle: Length,
}

#[derive(Clone, Copy, Debug)]
struct Place {
    travel: Angle,
    angle: Angle,
    added: Length,
}

impl Dial {
    /// Nothing was read yet.
    pub fn new(aim: Arc<Aim>, wanted: WantedBy) -> Self {
        Self {
            aim,
            wanted,
            value: None,
            moves: None,
            standing: None,
            places: vec![None; PLACES],
            travel: Angle::ZERO,
            last: None,
            looked_at: None,
            middle: Length::ZERO,
        }
    }

    /// A reading came, at an angle of the tool.
    pub fn take(&mut self, angle: Angle, reading: Length) {
        if let Some(last) = self.last.replace(angle) {
            self.travel += (angle - last).abs();
        }
        let Some(added) = self.aim.added(angle, reading) else {
            self.value = None;
            return;
        };
        let at = (angle.in_turn().turns() * PLACES as f64) as usize % PLACES;
        let place = Place {
            travel: self.travel,
            angle: angle.in_turn(),
            added,
        };
        let before = self.places.get(at).copied().flatten();
        if before.is_some_and(|before| self.was_changed(&before, &place)) {
            // What was read before the hand was on the throw says nothing of now.
            self.places.fill(None);
            self.standing = None;
            self.moves = None;
            self.looked_at = Some(self.travel);
        }
        if let Some(here) = self.places.get_mut(at) {
            *here = Some(place);
        }
        self.value = Some(self.aim.dial(angle, added) - self.middle);
        let due = self.looked_at.is_none_or(|at| self.travel - at >= ANEW);
        if due {
            self.looked_at = Some(self.travel);
            self.look();
        }
    }

    /// Whether the same place reads otherwise than it did, by more than a land in an unchanged fixture.
    fn was_changed(&self, before: &Place, now: &Place) -> bool {
        let dial = |place: &Place| self.aim.dial(place.angle, place.added);
        let apart = now.angle - before.angle;
        (dial(now) - dial(before)).abs() > self.aim.same_again(apart)
    }

    fn look(&mut self) {
        let back = (self.aim.pitch * 1.25).max(LEAST).min(MOST);
        let travel = self.travel;
        for place in &mut self.places {
            *place = place.filter(|place| travel - place.travel <= back);
        }
        let read: Vec<(Angle, Length)> = self
            .places
            .iter()
            .flatten()
            .map(|place| (place.angle, place.added))
            .collect();
        let shown = read
            .iter()
            .map(|(angle, added)| self.aim.dial(*angle, *added));
        let swept = swept(&shown.collect::<Vec<_>>());
        self.middle = swept.map_or(self.middle, |(middle, _)| middle);
        self.moves = swept.filter(|_| read.len() > 1).map(|(_, moves)| moves);
        self.standing = self.aim.standing(&read);
    }
}

/// Whether there is a dial.
#[derive(Clone, Debug, Default)]
pub enum Dialled {
    /// The trace under way needs none.
    #[default]
    None,
    /// How the fixture is to stand is being worked out.
    WorkingOut(Working),
    /// It cannot be worked out, and why.
    Without(Error),
    /// There is one.
    Shown(Box<Dial>),
}

/// Work on a thread of its own, and where its result will lie.
#[derive(Clone, Debug)]
pub struct Working(Arc<Mutex<Option<Found>>>);

type Found = Result<(Aim, WantedBy)>;

impl Dialled {
    /// For a trace that is about to be taken in this folder.
    pub(super) fn begin(dir: &Path, wanted: &Wanted) -> Self {
        let Role::Residual(feature, engaged) = &wanted.role else {
            return Dialled::None;
        };
        let place = Arc::new(Mutex::new(None));
        let (there, dir, feature) = (Arc::clone(&place), dir.to_owned(), feature.clone());
        let (z, engaged) = (wanted.z, *engaged);
        let work = move || {
            let aim =
                Folder::open(&dir).and_then(|folder| grind::aim(&folder, &feature, z, engaged));
            *there.lock().unwrap_or_else(PoisonError::into_inner) = Some(aim);
        };
        let thread = std::thread::Builder::new().name("aim".to_owned());
        match thread.spawn(work) {
            Ok(_) => Dialled::WorkingOut(Working(place)),
            Err(fault) => Dialled::Without(Error::internal("no thread", fault)),
        }
    }

    /// The encoder began to count anew: what was read with the fixture locked lies elsewhere now.
    pub(super) fn without_zero() -> Self {
        let message =
            "the encoder began to count anew since the land was traced with the fixture locked";
        Dialled::Without(
            Error::new(Code::Usage, message).help("take that trace again, and then this one"),
        )
    }

    /// Looks whether the work is done; whether it has just been.
    pub(super) fn look(&mut self) -> bool {
        let Dialled::WorkingOut(work) = &self else {
            return false;
        };
        let done = work.0.try_lock().ok().and_then(|mut done| done.take());
        match done {
            None => return false,
            Some(Ok((aim, wanted))) => {
                *self = Dialled::Shown(Box::new(Dial::new(Arc::new(aim), wanted)));
            }
            Some(Err(error)) => *self = Dialled::Without(error),
        }
        true
    }

    /// The dial, where there is one.
    pub fn dial(&self) -> Option<&Dial> {
        match self {
            Dialled::Shown(dial) => Some(dial),
            _ => None,
        }
    }

    pub(super) fn dial_mut(&mut self) -> Option<&mut Dial> {
        match self {
            Dialled::Shown(dial) => Some(dial),
            _ => None,
        }
    }
}
