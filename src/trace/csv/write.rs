//! Writes samples so that reading them back gives the same samples.

use crate::quantity::Angle;
use crate::sample::{Marks, Sample};
use std::io::{self, Write};

/// Which columns a file gets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Columns {
    /// `time_s,angle_deg,reading_mm`
    Plain,
    /// The same and `marks`.
    Marked,
}

/// Writes a whole trace; the column `marks` is there only when a sample has one.
///
/// Angles read from degrees come back to the last bit; others within two units in the last place.
pub fn write(mut out: impl Write, samples: &[Sample]) -> io::Result<()> {
    let unmarked = samples.iter().all(|sample| sample.marks.is_empty());
    let columns = if unmarked {
        Columns::Plain
    } else {
        Columns::Marked
    };
    write_header(&mut out, columns)?;
    write_rows(&mut out, samples, columns)
}

/// Writes the header alone, for a trace that grows while it is captured.
pub fn write_header(mut out: impl Write, columns: Columns) -> io::Result<()> {
    out.write_all(match columns {
        Columns::Plain => b"time_s,angle_deg,reading_mm\n",
        Columns::Marked => b"time_s,angle_deg,reading_mm,marks\n",
    })
}

/// Writes rows without a header.
pub fn write_rows(mut out: impl Write, samples: &[Sample], columns: Columns) -> io::Result<()> {
    for sample in samples {
        let (time, angle) = (sample.time.s(), exact_deg(sample.angle));
        write!(out, "{time},{angle},{}", sample.reading.mm())?;
        if columns == Columns::Marked {
            write_marks(&mut out, sample.marks)?;
        }
        out.write_all(b"\n")?;
    }
    Ok(())
}

fn write_marks(out: &mut impl Write, marks: Marks) -> io::Result<()> {
    let mut separator = ",";
    if marks.is_empty() {
        return out.write_all(separator.as_bytes());
    }
    for mark in marks.iter() {
        write!(out, "{separator}{}", mark.as_str())?;
        separator = "|";
    }
    Ok(())
}

/// The degrees that give back this very angle, where any do.
fn exact_deg(angle: Angle) -> f64 {
    let deg = angle.deg();
    let near = [deg, deg.next_up(), deg.next_down()];
    let exact = near.into_iter().find(|deg| Angle::from_deg(*deg) == angle);
    exact.unwrap_or(deg)
}
