//! Judging the inspection under way, and keeping it: on threads of their own, since both take a while.

use super::disk::Errand;
use super::job::Judging;
use super::judged;
use super::session::Session;
use crate::error::{Code, Error, Result};
use crate::inspection::capture::Order;
use crate::inspection::live::Phase;
use std::path::{Path, PathBuf};
use std::sync::Arc;

impl Session {
    /// Judges what there is, on a thread of its own.
    pub(super) fn judge(&self) -> Result<()> {
        let mut state = self.state();
        let job = state.job()?;
        if matches!(job.judging, Judging::UnderWay) {
            return Ok(());
        }
        if !matches!(job.live.phase, Phase::Between | Phase::Closed) {
            return Err(
                Error::new(Code::Usage, "a trace is under way").help("end it first, or give it up")
            );
        }
        if !job.live.plan.has_traces() {
            return Err(Error::new(
                Code::Usage,
                "nothing is traced yet, so nothing can be judged",
            ));
        }
        job.judging = Judging::UnderWay;
        job.kept = None;
        if job.live.plan.is_done() && job.orders.is_some() {
            // The card says first that all is taken; what is judged then is not marked cut short.
            return job.give(Order::Complete);
        }
        let (number, folder) = (job.number, job.folder.clone());
        drop(state);
        self.judge_on_a_thread(number, folder);
        Ok(())
    }

    pub(super) fn judge_on_a_thread(&self, number: u64, folder: PathBuf) {
        let this = self.clone();
        let work = move || this.judge_here(number, &folder);
        let thread = std::thread::Builder::new().name("judge".to_owned());
        if let Err(fault) = thread.spawn(work)
            && let Some(job) = &mut self.state().job
        {
            let message = format!("no thread to judge on: {fault}");
            job.judging = Judging::Failed(Error::new(Code::Internal, message));
        }
    }

    /// Judges, and lists in the verdict what was noted meanwhile.
    fn judge_here(&self, number: u64, folder: &Path) {
        let notes = self.state().numbered(number).map(|job| job.noted.clone());
        let notes = notes.unwrap_or_default();
        // What a disk refuses of the notes is told when they are changed.
        let _ = notes.hold().keep(folder);
        let before = notes.changes();
        let mut judged = judged::judge(folder);
        // Nobody notes anything while the verdict is put where the next note looks for it.
        let held = notes.hold();
        if notes.changes() != before {
            judged = judged.and_then(|record| judged::noted_anew(folder, &record));
        }
        let mut state = self.state();
        state.changes += 1;
        if let Some(job) = state.numbered(number) {
            job.judging = match judged {
                Ok(record) => Judging::Done(Arc::new(record)),
                Err(error) => Judging::Failed(error),
            };
        }
        drop(state);
        drop(held);
    }

    /// Keeps the judged inspection in the archive it belongs into.
    pub(super) fn keep(&self, errand: &Errand) -> Result<()> {
        let (folder, simulated) = {
            let mut state = self.state();
            let job = state.job()?;
            if !matches!(job.judging, Judging::Done(_)) {
                return Err(Error::new(Code::Usage, "it is not judged yet"));
            }
            (job.folder.clone(), job.is_simulated())
        };
        let kept = judged::keep(&folder, &self.archive(simulated), errand)?;
        self.state().job()?.kept = Some(kept);
        Ok(())
    }
}
