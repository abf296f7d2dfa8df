//! What came of an attack, as a row of the table.

/// Rounds of each attack.
pub fn rounds() -> u64 {
    let asked = std::env::var("HEELCLEAR_ATTACKS").ok();
    asked.and_then(|rounds| rounds.parse().ok()).unwrap_or(6)
}

/// A small generator, so that each round can be made again (Vigna, splitmix64, public domain).
pub struct Draw(pub u64);

impl Draw {
    pub fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut it = self.0;
        it = (it ^ (it >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        it = (it ^ (it >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (it ^ (it >> 31)) % end.max(1)
    }
}

/// A row of the table.
#[derive(Default)]
pub struct Tally {
    pub attack: String,
    pub rounds: u64,
    /// What was reported as kept and is not there.
    pub lost: Vec<String>,
    /// What is there and is not right, and nothing said so.
    pub wrong: Vec<String>,
    pub panics: Vec<String>,
}

impl Tally {
    pub fn of(attack: impl Into<String>) -> Self {
        Self {
            attack: attack.into(),
            ..Self::default()
        }
    }

    /// What a command said last: a panic, or an end by a signal that nobody sent, is one.
    pub fn look(&mut self, said: &str, status: Option<i32>, sent: bool) {
        let ended_itself = status.is_some() || sent;
        if said.contains("panicked") || status == Some(101) || !ended_itself {
            self.panics.push(said.to_owned());
        }
    }

    /// Prints the row, and stops the test where it is not all noughts.
    #[track_caller]
    pub fn told(self) {
        let counts = [self.lost.len(), self.wrong.len(), self.panics.len()];
        let [lost, wrong, panics] = counts;
        println!(
            "| {} | {} | {lost} | {wrong} | {panics} |",
            self.attack, self.rounds
        );
        let all = [self.lost, self.wrong, self.panics].concat();
        assert!(all.is_empty(), "{}: {}", self.attack, all.join("\n"));
    }
}
