//! What a relieving fixture really does to a tool, and the card that a person has of its grinder.

use super::scenario::{Cam, CamRise, Fixture, Scenario, Surface, WheelPart};
use super::target::Target;
use crate::card::{
    self, CamLaw, Cuts, GrinderCard, MotionEntry, MotionIs, RiseLaw, Slide, Spindle, Turns, Wheel,
};
use crate::quantity::{Angle, Length};
use std::f64::consts::{PI, TAU};

/// A fixture as it stands: the motion that it makes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Moving {
    cam: Cam,
    /// Over the throw for which the cam's rise is stated.
    gain: f64,
    /// How far the cam is turned, in radians.
    at: f64,
    backing: bool,
}

impl Fixture {
    /// As it really stands when its scales show this.
    pub(super) fn engaged(&self, throw_mm: f64, cam_angle_deg: f64) -> Moving {
        let makes = throw_mm * (1.0 + self.throw_error) + self.throw_zero_mm;
        Moving {
            cam: self.cam,
            gain: makes / self.throw_mm,
            at: (cam_angle_deg + self.cam_error_deg).to_radians(),
            backing: self.backing,
        }
    }

    /// As it stands while its motion is traced.
    pub(super) fn in_motion(&self) -> Moving {
        self.engaged(self.throw_mm + self.traced_off_mm, 0.0)
    }

    /// As it stands while a feature is traced.
    pub(super) fn on_feature(&self) -> Moving {
        let throw_mm = self.residual_throw() + self.traced_off_mm;
        self.engaged(throw_mm, self.residual_cam_deg)
    }

    fn residual_throw(&self) -> f64 {
        self.residual_throw_mm.unwrap_or(self.throw_mm)
    }
}

impl Moving {
    /// How far the tool is moved towards the wheel at an angle of the tool, in mm.
    pub(super) fn towards(&self, angle: f64) -> f64 {
        let turned = angle - self.at;
        let turned = if self.backing { -turned } else { turned };
        let pitch = TAU / f64::from(self.cam.lobes.max(1));
        self.gain * self.cam.rise_mm * self.cam.risen(turned.rem_euclid(pitch))
    }

    /// The most that the tool is moved.
    pub(super) fn most(&self) -> f64 {
        self.gain * self.cam.rise_mm
    }
}

impl Cam {
    /// Share of the rise at an angle behind the start of a lobe, in radians.
    fn risen(&self, at: f64) -> f64 {
        let deg = at.to_degrees();
        let top = self.rise_deg + self.dwell_deg;
        if deg < self.rise_deg {
            return self.law.share(deg / self.rise_deg);
        }
        if deg < top {
            return 1.0;
        }
        // Without an arc to go back over it drops at once.
        if deg < top + self.return_deg {
            return 1.0 - self.law.share((deg - top) / self.return_deg);
        }
        0.0
    }
}

impl CamRise {
    /// The standard laws of cam motion, for a rise of 1 over an arc of 1, by what moves: a place that
    /// goes evenly, one on a half circle, one on a rolling circle, one that falls and is caught.
    fn share(self, u: f64) -> f64 {
        match self {
            CamRise::Constant => u,
            CamRise::Harmonic => (PI * u / 2.0).sin().powi(2),
            CamRise::Cycloidal => u - (TAU * u).sin() / TAU,
            CamRise::Parabolic => {
                let (first, second) = (u.min(0.5), (u - 0.5).max(0.0));
                2.0 * first * first + 2.0 * second - 2.0 * second * second
            }
        }
    }

    fn on_card(self) -> RiseLaw {
        match self {
            CamRise::Constant => RiseLaw::Constant,
            CamRise::Harmonic => RiseLaw::Harmonic,
            CamRise::Cycloidal => RiseLaw::Cycloidal,
            CamRise::Parabolic => RiseLaw::Parabolic,
        }
    }
}

impl Surface {
    pub(super) fn on_card(self) -> card::Surface {
        match self {
            Surface::Radial => card::Surface::Radial,
            Surface::Axial => card::Surface::Axial,
        }
    }

    pub(super) fn word(self) -> &'static str {
        self.on_card().as_str()
    }
}

impl Scenario {
    /// `grinder.toml` as a person would have written it: nothing of what it is off by. Nothing where
    /// the recipe has no grinder.
    pub fn grinder_card(&self) -> Option<String> {
        Some(self.grinder_as_stated()?.to_toml())
    }

    fn grinder_as_stated(&self) -> Option<GrinderCard> {
        let grinder = self.grinder.as_ref()?;
        let mm = Length::from_mm;
        let wheel = Wheel {
            name: "white".to_owned(),
            cuts: match grinder.wheel.cuts {
                WheelPart::Rim => Cuts::Rim,
                WheelPart::Corner => Cuts::Corner,
                WheelPart::Side => Cuts::Side,
            },
            diameter: mm(grinder.wheel.diameter_mm),
            full_diameter: None,
            width: None,
            corner: grinder.wheel.corner_mm.map(mm),
            greatest_m_per_s: Some(WHEEL_M_PER_S),
            greatest_rpm: None,
        };
        let slides = grinder.fixture.iter().map(|fixture| Slide {
            name: format!("{} feed", fixture.direction.word()),
            direction: fixture.direction.on_card(),
            graduation: mm(grinder.feed_graduation_mm),
            play: None,
        });
        let mut slides: Vec<Slide> = slides.collect();
        slides.dedup_by_key(|slide| slide.direction);
        let stated = grinder.fixture.iter().filter(|fixture| fixture.state_cam);
        Some(GrinderCard {
            name: grinder.name.clone(),
            centre_tolerance: None,
            spindle: Spindle::default(),
            wheels: vec![wheel],
            slides,
            swivels: Vec::new(),
            fixtures: grinder.fixture.iter().map(Fixture::on_card).collect(),
            motions: stated.map(Fixture::motion_on_card).collect(),
            corrections: Vec::new(),
        })
    }

    /// What is traced with a fixture engaged, each with the name of its trace.
    pub(super) fn engaged_targets(&self) -> Vec<(String, Target)> {
        let mut targets = Vec::new();
        for (at, fixture) in self.fixtures().iter().enumerate() {
            if fixture.trace_motion {
                let name = match at {
                    0 => "motion".to_owned(),
                    _ => format!("motion-{}", at + 1),
                };
                targets.push((name, Target::Motion(at)));
            }
            for (feature, of) in self.feature.iter().enumerate() {
                if fixture.residual.contains(&of.name) {
                    let target = Target::Residual {
                        fixture: at,
                        feature,
                    };
                    targets.push((format!("{}-residual", of.name), target));
                }
            }
        }
        targets
    }

    pub(super) fn fixtures(&self) -> &[Fixture] {
        self.grinder
            .as_ref()
            .map_or(&[], |it| it.fixture.as_slice())
    }

    /// How the scales stand in a trace with the fixture engaged; nothing where it is locked.
    pub fn stands(&self, target: Target) -> Option<card::Engaged> {
        let (fixture, of_feature) = match target {
            Target::Motion(fixture) => (fixture, false),
            Target::Residual { fixture, .. } => (fixture, true),
            Target::Reference(_) | Target::Feature(_) => return None,
        };
        let fixture = self.fixtures().get(fixture)?;
        Some(card::Engaged {
            direction: fixture.direction.on_card(),
            throw: Length::from_mm(match of_feature {
                true => fixture.residual_throw(),
                false => fixture.throw_mm,
            }),
        })
    }
}

/// What is marked on an ordinary vitrified wheel (common practice, no source).
const WHEEL_M_PER_S: f64 = 35.0;

impl Fixture {
    fn on_card(&self) -> card::Fixture {
        card::Fixture {
            name: self.name.clone(),
            direction: self.direction.on_card(),
            least: Length::from_mm(self.least_throw_mm),
            greatest: Length::from_mm(self.greatest_throw_mm),
            graduation: Length::from_mm(self.graduation_mm),
            play: (self.play_mm > 0.0).then(|| Length::from_mm(self.play_mm)),
            cam_graduation: self.cam_graduation_deg.map(Angle::from_deg),
            turns: match self.backing {
                true => Turns::Backing,
                false => Turns::Cutting,
            },
        }
    }

    fn motion_on_card(&self) -> MotionEntry {
        MotionEntry {
            fixture: self.name.clone(),
            cam: "cam 1".to_owned(),
            direction: self.direction.on_card(),
            throw: Length::from_mm(self.throw_mm),
            is: MotionIs::Law(CamLaw {
                law: self.cam.law.on_card(),
                rise: Length::from_mm(self.cam.rise_mm),
                rise_arc: Angle::from_deg(self.cam.rise_deg),
                dwell_arc: Angle::from_deg(self.cam.dwell_deg),
                return_arc: Angle::from_deg(self.cam.return_deg),
                lobes: self.cam.lobes,
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const CAM: Cam = Cam {
        law: CamRise::Harmonic,
        rise_mm: 0.6,
        rise_deg: 60.0,
        dwell_deg: 10.0,
        return_deg: 20.0,
        lobes: 4,
    };

    fn fixture() -> Fixture {
        toml::from_str(
            "throw_mm = 1.0\ngreatest_throw_mm = 2.0\ngraduation_mm = 0.01\n\
             cam = { law = \"harmonic\", rise_mm = 0.6, rise_deg = 60.0, dwell_deg = 10.0, \
             return_deg = 20.0, lobes = 4 }",
        )
        .unwrap()
    }

    #[track_caller]
    fn check(moving: &Moving, deg: f64, expected_mm: f64) {
        let found = moving.towards(deg.to_radians());
        assert!((found - expected_mm).abs() < 1e-9, "{deg}: {found}");
    }

    #[test]
    fn every_law_is_half_way_in_the_middle_and_even_about_it() {
        for law in [
            CamRise::Constant,
            CamRise::Harmonic,
            CamRise::Cycloidal,
            CamRise::Parabolic,
        ] {
            for u in [0.0, 0.1, 0.3, 0.5] {
                let both = law.share(u) + law.share(1.0 - u);
                assert!((both - 1.0).abs() < 1e-12, "{law:?} {u}");
            }
            assert!(law.share(0.0).abs() < 1e-12);
        }
    }

    #[test]
    fn a_lobe_rises_stands_and_goes_back() {
        let moving = fixture().engaged(1.0, 0.0);
        for lobe in 0..4 {
            let start = 90.0 * f64::from(lobe);
            check(&moving, start + 30.0, 0.3);
            check(&moving, start + 65.0, 0.6);
            check(&moving, start + 80.0, 0.3);
            check(&moving, start + 1e-9, 0.0);
        }
    }

    #[test]
    fn what_the_scales_hide_shows_in_the_motion() {
        let mut fixture = fixture();
        fixture.throw_error = 0.05;
        fixture.throw_zero_mm = -0.02;
        fixture.cam_error_deg = 1.5;
        // 2 mm on the scale make 2.08 mm, which is 2.08 times the rise.
        check(&fixture.engaged(2.0, 10.0), 41.5, 0.3 * 2.08);
        fixture.backing = true;
        check(&fixture.engaged(2.0, 10.0), -18.5, 0.3 * 2.08);
    }

    #[test]
    fn the_card_says_nothing_of_what_is_hidden() {
        let mut scenario = super::super::built_in("counterbore-pass").unwrap();
        assert_eq!(scenario.grinder_card(), None);
        let of = |fixture: Fixture| super::super::Grinder {
            name: "grinder".to_owned(),
            feed_graduation_mm: 0.005,
            feed_error: 0.0,
            touch_step_mm: 0.001,
            eccentricity_mm: 0.0,
            eccentric_at_deg: 0.0,
            wheel: super::super::GrindingWheel {
                cuts: WheelPart::Rim,
                diameter_mm: 150.0,
                corner_mm: None,
                diameter_error_mm: 0.0,
            },
            fixture: vec![fixture],
        };
        scenario.grinder = Some(of(fixture()));
        let honest = scenario.grinder_card().unwrap();
        let mut off = fixture();
        off.throw_error = 0.03;
        off.throw_zero_mm = 0.01;
        off.cam_error_deg = 2.0;
        off.traced_off_mm = 0.004;
        let mut grinder = of(off);
        grinder.feed_error = 0.1;
        grinder.wheel.diameter_error_mm = -3.0;
        grinder.eccentricity_mm = 0.02;
        scenario.grinder = Some(grinder);
        assert_eq!(scenario.grinder_card().unwrap(), honest);
        let read = GrinderCard::parse(&honest, "grinder.toml").unwrap();
        assert_eq!(read.fixtures[0].greatest.mm(), 2.0);
        assert!(read.motions.is_empty());
    }

    #[test]
    fn the_card_states_the_cam_where_the_recipe_says_so() {
        let mut scenario = super::super::built_in("counterbore-pass").unwrap();
        let mut fixture = fixture();
        fixture.state_cam = true;
        scenario.grinder = Some(super::super::Grinder {
            fixture: vec![fixture],
            ..toml::from_str("wheel = { diameter_mm = 150.0 }\nfixture = []").unwrap()
        });
        let card = scenario.grinder_card().unwrap();
        let read = GrinderCard::parse(&card, "grinder.toml").unwrap();
        let MotionIs::Law(law) = &read.motions[0].is else {
            unreachable!()
        };
        assert_eq!(law.rise.mm(), CAM.rise_mm);
        assert_eq!(law.lobes, CAM.lobes);
    }
}
