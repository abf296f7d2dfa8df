//! Proving the encoder's turning sense: the person turns the spindle clockwise, and its angle is watched.
//!
//! It is done once for each bench, before the first trace, on a port of its own opening: nothing of it
//! is a reading. What was seen is kept on the bench's gauge card and on the inspection's copy of it.

use super::job::Job;
use super::proving::{Proving, Stage};
use super::session::Session;
use super::work::{CardKind, Work};
use crate::card::{GaugeCard, Rotation};
use crate::error::{Code, Error, Result};
use crate::inspection::capture::{Heard, Hearing, Listening, listen};
use crate::inspection::instruments::{Choice, Opened, open_for_proof};
use crate::inspection::live::Phase;
use crate::inspection::{seen_to_grow, seen_today, with_proof, write_whole};
use crate::quantity::{Angle, Time};
use std::path::PathBuf;
use tokio::sync::oneshot;

/// A person may be called away: the page waits until it is told otherwise.
const TURN_WAIT: Time = Time::from_s(86_400.0);

/// What a person says to a proof.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Say {
    /// It is wanted, also where the inspection is past its first trace.
    Wanted,
    /// What was seen is right: it was turned clockwise.
    Keep,
    /// It is to be turned once more.
    Again,
    /// Go on without.
    Leave,
}

impl Job {
    /// Whether the turning sense is to be proven before anything else goes on.
    pub(super) fn asks_for_proof(&self) -> bool {
        let open = self.gauge.encoder.sense_proven.is_none() && !self.live.plan.has_traces();
        self.proof_wanted || (open && !self.proof_left)
    }
}

impl Session {
    /// Opens the instruments to see which way the angle grows.
    pub(super) fn prove(&self, job: &mut Job, choice: Choice) -> Result<()> {
        let opened = open_for_proof(&choice, &job.tool, &job.gauge)?;
        let (stop, stopped) = oneshot::channel::<()>();
        let (this, number, gauge) = (self.clone(), job.number, job.gauge.clone());
        let work = move || this.watch(number, &gauge, opened, stopped);
        let thread = std::thread::Builder::new().name("proof".to_owned());
        let thread = thread
            .spawn(work)
            .map_err(|fault| Error::internal("no thread to listen on", fault))?;
        job.choice = Some(choice.clone());
        job.proving = Some(Proving {
            stage: Stage::Opening,
            choice,
            stop,
            thread,
        });
        Ok(())
    }

    /// In the thread that listens.
    fn watch(
        &self,
        number: u64,
        gauge: &GaugeCard,
        opened: Opened,
        stopped: oneshot::Receiver<()>,
    ) {
        let simulation = opened.simulation;
        let mut hear = |hearing: Hearing<'_>| match hearing {
            Hearing::TurnClockwise => {
                if let Some(simulation) = &simulation {
                    simulation.turn();
                }
                self.proves(number, Stage::Turning(Angle::ZERO));
            }
            Hearing::WentClockwise(by) => self.proves(number, Stage::Turning(by)),
            _ => {}
        };
        let listening = Listening {
            rest: Time::ZERO,
            turn: false,
            clockwise: true,
            patience: None,
            turn_wait: Some(TURN_WAIT),
        };
        let stop = async {
            let _ = stopped.await;
        };
        let heard = listen(
            gauge,
            opened.indicator,
            opened.encoder,
            listening,
            &mut hear,
            stop,
        );
        self.heard(number, heard);
    }

    fn proves(&self, number: u64, stage: Stage) {
        let mut state = self.state();
        let state = &mut *state;
        let job = state.job.as_mut().filter(|job| job.number == number);
        if let Some(proving) = job.and_then(|job| job.proving.as_mut())
            && proving.stage != stage
        {
            proving.stage = stage;
            state.changes += 1;
        }
    }

    fn heard(&self, number: u64, heard: Result<Heard>) {
        let (by, fault) = match heard {
            Ok(heard) => (heard.clockwise, heard.fault.map(|(_, fault)| fault)),
            Err(fault) if fault.code() == Code::Interrupted => return,
            Err(fault) => (None, Some(fault)),
        };
        if let Some(by) = by.filter(|by| seen_to_grow(*by).is_some()) {
            return self.proves(number, Stage::Seen(by));
        }
        let mut state = self.state();
        state.changes += 1;
        if let Some(job) = state.numbered(number) {
            job.proving = None;
            if let Some(fault) = fault {
                job.live.fault(fault.to_string());
            }
        }
    }

    /// Does what a person says to a proof, and goes on with the inspection.
    pub(super) fn say_to_proof(&self, say: Say) -> Result<()> {
        if say == Say::Keep {
            self.keep_proof()?;
        }
        let (proving, going_on) = {
            let mut state = self.state();
            let job = state.job()?;
            match say {
                Say::Wanted => {
                    if !matches!(job.live.phase, Phase::Between | Phase::Closed) {
                        return Err(Error::new(Code::Usage, "a trace is under way")
                            .help("end it first, or drop it"));
                    }
                    job.proof_wanted = true;
                }
                Say::Keep | Say::Again => {}
                Say::Leave => {
                    job.proof_left = true;
                    job.live.remark(
                        "the turning sense is not proven: what fits both senses alike will be \
                         undecided"
                            .to_owned(),
                    );
                }
            }
            let proving = job.proving.take();
            let before = proving.as_ref().map(|proving| proving.choice.clone());
            (proving, before.or_else(|| job.choice.clone()))
        };
        if let Some(proving) = proving {
            proving.end();
        }
        if say == Say::Wanted {
            // The capture has the port.
            self.disconnect()?;
        }
        self.go_on_from_proof(say, going_on)
    }

    fn go_on_from_proof(&self, say: Say, choice: Option<Choice>) -> Result<()> {
        let mut state = self.state();
        let job = state.job()?;
        let ends = matches!(say, Say::Keep | Say::Leave);
        let past = std::mem::take(&mut job.proof_wanted);
        if !ends {
            job.proof_wanted = past;
        } else if past {
            // It was asked for behind the traces: what is judged is judged anew.
            drop(state);
            return match say {
                Say::Keep => self.judge(),
                _ => Ok(()),
            };
        }
        let Some(choice) = choice.filter(|_| job.cautioned) else {
            // Cautions and the port come first.
            return Ok(());
        };
        if ends {
            self.capture(job, choice)
        } else {
            self.prove(job, choice)
        }
    }

    /// Keeps what was seen, on the copy that the inspection has and on the card of the bench.
    fn keep_proof(&self) -> Result<()> {
        let (kept, number) = {
            let mut state = self.state();
            let job = state.job()?;
            let seen = job.proving.as_ref().and_then(Proving::seen);
            let grows = seen.ok_or_else(|| {
                Error::new(Code::Usage, "nothing was seen yet")
                    .help("turn the spindle clockwise, seen from the driven end")
            })?;
            let kept = Kept {
                grows,
                stated: job.gauge.encoder.sense.grows(job.tool.hand),
                text: with_proof(&job.gauge_text, &job.gauge_name, seen_today(grows))?,
                copy: job.folder.join(&job.gauge_name),
                file: job.gauge_file.clone(),
            };
            (kept, job.number)
        };
        let gauge = GaugeCard::parse(&kept.text, "gauge.toml")?;
        kept.write(&self.work)?;
        let mut state = self.state();
        state.changes += 1;
        let Some(job) = state.numbered(number) else {
            return Ok(());
        };
        let (grows, stated) = (kept.grows, kept.stated);
        let on = kept.file.map(|file| format!("; kept in {file}"));
        job.live.remark(format!(
            "the angle was seen to grow {grows}{}",
            on.unwrap_or_default()
        ));
        (job.gauge_text, job.gauge) = (kept.text, gauge);
        if stated != grows {
            job.live.fault(format!(
                "the card said {stated}: judge again what was judged with it, edge and heel were \
                 turned round"
            ));
        }
        Ok(())
    }
}

/// What was seen, on its way to the cards.
struct Kept {
    grows: Rotation,
    stated: Rotation,
    /// The card with it.
    text: String,
    /// The inspection's copy.
    copy: PathBuf,
    /// The card of the bench.
    file: Option<String>,
}

impl Kept {
    fn write(&self, work: &Work) -> Result<()> {
        if self.copy.exists() {
            write_whole(&self.copy, self.text.as_bytes())?;
        }
        if let Some(file) = &self.file {
            // Somebody may have changed another key of it meanwhile.
            let now = work.card_text(CardKind::Gauge, file)?;
            work.write_gauge(file, &with_proof(&now, file, seen_today(self.grows))?)?;
        }
        Ok(())
    }
}
