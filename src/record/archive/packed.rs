//! A file's bytes as the archive keeps them: a header of our own, then the bytes in fewer.
//!
//! | bytes | what |
//! |---|---|
//! | 0 to 3 | `hclr` |
//! | 4 | version of this form: 1 |
//! | 5 | 0 the bytes as they are, 1 zstd of them, 2 zstd of their columns |
//! | 6 to 13 | number of bytes in the file, lowest first |
//! | 14 to 17 | CRC-32 of bytes 0 to 13 here and of the whole file, lowest first |
//! | from 18 | the contents |

use super::columns;
use crc::{CRC_32_ISO_HDLC, Crc, Table};

const MAGIC: &[u8; 4] = b"hclr";
const VERSION: u8 = 1;
const HEADER: usize = 18;
const ZSTD_LEVEL: i32 = 3;
const CRC: Crc<u32, Table<16>> = Crc::<u32, Table<16>>::new(&CRC_32_ISO_HDLC);

/// The longest file that an archive takes; a database holds no greater value in one place.
pub(super) const LONGEST: u64 = 900_000_000;

/// How the contents are kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Byte for byte: nothing made them fewer.
    Plain = 0,
    /// zstd of the bytes.
    Zstd = 1,
    /// zstd of a CSV file's columns.
    Columns = 2,
}

/// Packs a file; a CSV file goes in as columns when its very bytes come back from them.
pub fn pack(path: &str, bytes: &[u8]) -> Vec<u8> {
    let columns = path.ends_with(".csv").then(|| as_columns(bytes)).flatten();
    let (mut form, mut contents) = match columns {
        Some(columns) => (Form::Columns, squeeze(&columns)),
        None => (Form::Zstd, squeeze(bytes)),
    };
    if contents
        .as_ref()
        .is_none_or(|packed| packed.len() >= bytes.len())
    {
        (form, contents) = (Form::Plain, None);
    }
    let contents = contents.as_deref().unwrap_or(bytes);
    let mut packed = Vec::with_capacity(HEADER + contents.len());
    packed.extend_from_slice(MAGIC);
    packed.extend([VERSION, form as u8]);
    packed.extend((bytes.len() as u64).to_le_bytes());
    packed.extend(checksum(&packed, bytes).to_le_bytes());
    packed.extend_from_slice(contents);
    packed
}

/// The file that was packed.
///
/// # Errors
/// What is wrong, as the end of a sentence, where the bytes are damaged.
pub fn unpack(packed: &[u8]) -> Result<Vec<u8>, String> {
    let (form, length, crc) = header(packed)?;
    let contents = &packed[HEADER..];
    let bytes = match form {
        Form::Plain => Some(contents.to_vec()),
        Form::Zstd => unsqueeze(contents, length),
        // Columns are never longer than the file, but for the few bytes of their forms.
        Form::Columns => unsqueeze(contents, length.saturating_add(COLUMNS_MORE))
            .and_then(|columns| columns::decode(&columns)),
    };
    let bytes = bytes.ok_or("its contents cannot be unpacked")?;
    if bytes.len() as u64 != length || checksum(&packed[..14], &bytes) != crc {
        return Err("its checksum is another".to_owned());
    }
    Ok(bytes)
}

/// How a packed file is kept; `None` where its header is damaged.
pub fn form(packed: &[u8]) -> Option<Form> {
    header(packed).ok().map(|(form, ..)| form)
}

/// Columns are refused where they take this much more than the file.
const COLUMNS_MORE: u64 = 1024;

fn header(packed: &[u8]) -> Result<(Form, u64, u32), String> {
    let short = "it is shorter than its header";
    let header = packed.get(..HEADER).ok_or(short)?;
    if &header[..4] != MAGIC {
        return Err("it does not begin with `hclr`".to_owned());
    }
    if header[4] != VERSION {
        return Err(format!("read form {}, expected {VERSION}", header[4]));
    }
    let forms = [Form::Plain, Form::Zstd, Form::Columns];
    let known = forms.into_iter().find(|form| *form as u8 == header[5]);
    let form = known.ok_or_else(|| format!("read contents of kind {}", header[5]))?;
    let length = header[6..14].iter().rev();
    let length = length.fold(0, |length, byte| length << 8 | u64::from(*byte));
    let crc = header[14..].iter().rev();
    let crc = crc.fold(0, |crc, byte| crc << 8 | u32::from(*byte));
    if length > LONGEST {
        return Err("its length makes no sense".to_owned());
    }
    Ok((form, length, crc))
}

fn checksum(header: &[u8], bytes: &[u8]) -> u32 {
    let mut digest = CRC.digest();
    digest.update(header);
    digest.update(bytes);
    digest.finalize()
}

/// The columns of a CSV file, if its very bytes come back from them.
fn as_columns(bytes: &[u8]) -> Option<Vec<u8>> {
    let columns = columns::encode(bytes)?;
    let long = columns.len() as u64 > bytes.len() as u64 + COLUMNS_MORE;
    (!long && columns::decode(&columns)? == bytes).then_some(columns)
}

fn squeeze(bytes: &[u8]) -> Option<Vec<u8>> {
    zstd::bulk::compress(bytes, ZSTD_LEVEL).ok()
}

/// Unpacks to at most so many bytes, so that a damaged length asks for no more memory than that.
fn unsqueeze(contents: &[u8], most: u64) -> Option<Vec<u8>> {
    zstd::bulk::decompress(contents, usize::try_from(most).ok()?).ok()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[track_caller]
    fn check(path: &str, bytes: &[u8], expected: Form) {
        let packed = pack(path, bytes);
        assert_eq!(form(&packed), Some(expected), "{path}");
        assert_eq!(unpack(&packed).as_deref(), Ok(bytes), "{path}");
    }

    #[test]
    fn each_file_goes_in_as_it_gets_smallest_and_comes_back_byte_for_byte() {
        let mut trace = "time_s,angle_deg,reading_mm\n".to_owned();
        for count in 0..500 {
            let (time, angle) = (f64::from(count) * 0.02, f64::from(count) * 0.09);
            trace += &format!("{time},{angle},{}\n", f64::from(count % 7) / 1000.0);
        }
        check("traces/seat.csv", trace.as_bytes(), Form::Columns);
        check("raw/seat.log", trace.as_bytes(), Form::Zstd);
        // Fields are missing in the last line, as a torn write leaves it.
        check(
            "traces/seat.csv",
            &trace.as_bytes()[..trace.len() - 9],
            Form::Zstd,
        );
        check("tool.toml", b"", Form::Plain);
        check("tool.toml", b"schema = 1\n", Form::Plain);
        check("traces/seat.csv", b"\xff\x00\n", Form::Plain);
    }

    #[test]
    fn no_single_bit_can_be_turned_unseen() {
        let csv = b"time_s,reading_mm\n0.01,0.100\n0.02,0.101\n0.03,0.099\n".repeat(3);
        for (path, bytes) in [("a.csv", &csv[..]), ("a.log", &csv), ("a.toml", b"ab")] {
            let packed = pack(path, bytes);
            for at in 0..packed.len() {
                for bit in 0..8 {
                    let mut damaged = packed.clone();
                    damaged[at] ^= 1 << bit;
                    // A turned bit that changes nothing would still be the same file.
                    let seen = unpack(&damaged).map_or(true, |back| back == bytes);
                    assert!(seen, "bit {bit} of byte {at} of {path}");
                }
            }
            for length in 0..packed.len() {
                assert!(
                    unpack(&packed[..length]).is_err(),
                    "{length} bytes of {path}"
                );
            }
        }
    }
}
