//! One bit of an archive turned: what comes out is as it was, or is refused.

use crate::place::{Place, files, first, told};
use crate::tally::{Draw, Tally, rounds};
use std::fs;

#[test]
fn no_turned_bit_gives_a_wrong_file() {
    let mut tally = Tally::of("a bit of the archive turned");
    let mut draw = Draw(8);
    let place = Place::new();
    // Closed by the last one that used it, it is one file without a log.
    place.run(&["archive", "check", "--archive", "a.db"]);
    let whole = fs::read(place.path("a.db")).unwrap();
    let right = files(&first().join("exported"));
    for _ in 0..rounds() * 2 {
        let bit = draw.below(whole.len() as u64 * 8) as usize;
        let mut turned = whole.clone();
        turned[bit / 8] ^= 1 << (bit % 8);
        for log in ["a.db-wal", "a.db-shm"] {
            let _ = fs::remove_file(place.path(log));
        }
        fs::write(place.path("a.db"), turned).unwrap();
        let _ = fs::remove_dir_all(place.path("out"));
        let ran = place.run(&["archive", "export", "--out", "out", "--archive", "a.db"]);
        tally.look(&told(&ran), ran.status.code(), false);
        let came = files(&place.path("out"));
        for (name, bytes) in &came {
            // What the archive says of a record beside its files is compared as well.
            if !right.iter().any(|(it, was)| it == name && was == bytes) {
                tally.wrong.push(format!("bit {bit} changed {name}"));
            }
        }
        if ran.status.code() == Some(0) && came.len() != right.len() {
            tally.wrong.push(format!("bit {bit} hid a file"));
        }
        let ran = place.run(&["archive", "check", "--archive", "a.db"]);
        tally.look(&told(&ran), ran.status.code(), false);
        tally.rounds += 1;
    }
    tally.told();
}
