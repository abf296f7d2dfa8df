//! What the capture tells, taken in on its thread: what the pages are shown, and what goes on by itself.

use super::job::Judging;
use super::session::Session;
use crate::card::Role;
use crate::error::Result;
use crate::inspection::capture::{Captured, Notice};
use crate::inspection::live::{Broken, Phase};

impl Session {
    /// In the thread that captures.
    pub(super) fn hear(&self, number: u64, notice: &Notice<'_>) {
        let mut state = self.state();
        let Some(job) = state.numbered(number) else {
            return;
        };
        job.live.take(notice);
        match notice {
            Notice::Set { .. } => {
                if let Some(simulation) = &job.simulation {
                    simulation.turn();
                }
            }
            Notice::Progress(progress) => {
                if let (Phase::Turning, Some(growing)) = (job.live.phase, &job.live.growing)
                    && matches!(growing.role, Role::Feature(_))
                {
                    let tied = job.live.broken == Some(Broken::Tied);
                    self.provisional
                        .refresh(&job.folder, growing, progress.readings, tied);
                }
            }
            Notice::Ready { .. } | Notice::Cut(_) | Notice::Made(_) | Notice::ZeroLost { .. } => {
                drop(state);
                self.keep_plan(number);
            }
            Notice::Waiting => {
                let wish = job.wish.take();
                job.led(wish, &self.provisional);
            }
            Notice::Completed => {
                let folder = job.folder.clone();
                drop(state);
                self.judge_on_a_thread(number, folder);
            }
            _ => {}
        }
    }

    pub(super) fn over(&self, number: u64, ended: &Result<Captured>) {
        let mut state = self.state();
        state.changes += 1;
        let Some(job) = state.numbered(number) else {
            return;
        };
        job.live.over(ended);
        job.orders = None;
        job.simulation = None;
        if matches!(job.judging, Judging::UnderWay) {
            job.judging = Judging::NotYet;
        }
        drop(state);
        self.keep_plan(number);
    }
}
