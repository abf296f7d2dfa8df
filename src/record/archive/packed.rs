//! A file's bytes as the archive keeps them: a header of our own, then the bytes in fewer.
//!
//! | bytes | what |
//! |---|---|
//! | 0 to 3 | `hclr` |
//! | 4 | version of this form: 1 |
//! | 5 | how the contents are kept: the number of a [`Form`] |
//! | 6 to 13 | number of bytes in the file, lowest first |
//! | 14 to 17 | CRC-32 of bytes 0 to 13 here and of the whole file, lowest first; of the contents where the file is drawn |
//! | from 18 | the contents |

use super::columns;
use super::drawing::Drawing;
use super::keyed;
use crc::{CRC_32_ISO_HDLC, Crc, Table};
use std::cell::RefCell;
use std::sync::LazyLock;
use zstd::bulk::{Compressor, Decompressor};
use zstd::dict::{DecoderDictionary, EncoderDictionary};

const MAGIC: &[u8; 4] = b"hclr";
const VERSION: u8 = 1;
const HEADER: usize = 18;
const ZSTD_LEVEL: i32 = 3;
/// Cards and verdicts are short and full of words, which pays for a longer search.
const WORDS_LEVEL: i32 = 6;
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
    /// zstd with the words that such files share.
    Words = 3,
    /// zstd with these words, of the numbers of a text by their names and the text without them.
    Keyed = 4,
    /// Not the file, but the verdict that it is drawn from.
    Drawn = 5,
}

impl Form {
    const ALL: [Form; 6] = [
        Form::Plain,
        Form::Zstd,
        Form::Columns,
        Form::Words,
        Form::Keyed,
        Form::Drawn,
    ];
}

/// What cards, verdicts and reports have in common, so that none of them has to say it again. What
/// was packed with it needs these very bytes for ever: other words are another file and other forms.
const WORDS: &[u8] = include_bytes!("words-1.txt");

/// Packs a file; a CSV file goes in as columns when its very bytes come back from them, and a JSON
/// file as the numbers of each name.
pub fn pack(path: &str, bytes: &[u8]) -> Vec<u8> {
    let apart = match path.rsplit_once('.') {
        Some((_, "csv")) => as_columns(bytes).map(|it| (Form::Columns, squeeze(&it))),
        Some((_, "json")) => as_keyed(bytes).map(|it| (Form::Keyed, squeeze_with_words(&it))),
        Some((_, "toml" | "svg")) => Some((Form::Words, squeeze_with_words(bytes))),
        _ => None,
    };
    let (mut form, mut contents) = apart.unwrap_or_else(|| (Form::Zstd, squeeze(bytes)));
    if contents
        .as_ref()
        .is_none_or(|packed| packed.len() >= bytes.len())
    {
        (form, contents) = (Form::Plain, None);
    }
    let contents = contents.as_deref().unwrap_or(bytes);
    with_header(form, bytes.len() as u64, bytes, contents)
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
            .and_then(|columns| joined(form, &columns, length)),
        Form::Words => unsqueeze_with_words(contents, length),
        Form::Keyed => unsqueeze_with_words(contents, most_keyed(length))
            .and_then(|columns| joined(form, &columns, length)),
        Form::Drawn => return Err("it is not kept, but drawn from its verdict".to_owned()),
    };
    let bytes = bytes.ok_or("its contents cannot be unpacked")?;
    if bytes.len() as u64 != length || checksum(&packed[..14], &bytes) != crc {
        return Err("its checksum is another".to_owned());
    }
    Ok(bytes)
}

/// The file of so many bytes whose columns these are; nothing where they are damaged, or of a form
/// that has none.
pub fn joined(form: Form, columns: &[u8], length: u64) -> Option<Vec<u8>> {
    match form {
        Form::Columns => columns::decode(columns, length),
        Form::Keyed => keyed::decode(columns, length),
        _ => None,
    }
}

/// What is kept in the place of a file of so many bytes that is drawn again.
pub(super) fn pack_drawing(length: u64, drawing: &Drawing) -> Vec<u8> {
    let contents = drawing.to_bytes();
    with_header(Form::Drawn, length, &contents, &contents)
}

/// How a file that is not kept is drawn again; nothing where it is kept.
///
/// # Errors
/// What is wrong, as the end of a sentence, where the bytes are damaged.
pub(super) fn drawing(packed: &[u8]) -> Result<Option<Drawing>, String> {
    let (form, _, crc) = header(packed)?;
    if form != Form::Drawn {
        return Ok(None);
    }
    let contents = &packed[HEADER..];
    if checksum(&packed[..14], contents) != crc {
        return Err("its checksum is another".to_owned());
    }
    let drawing = Drawing::from_bytes(contents);
    Ok(Some(drawing.ok_or("what it is drawn from cannot be read")?))
}

fn with_header(form: Form, length: u64, checked: &[u8], contents: &[u8]) -> Vec<u8> {
    let mut packed = Vec::with_capacity(HEADER + contents.len());
    packed.extend_from_slice(MAGIC);
    packed.extend([VERSION, form as u8]);
    packed.extend(length.to_le_bytes());
    packed.extend(checksum(&packed, checked).to_le_bytes());
    packed.extend_from_slice(contents);
    packed
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
    let known = Form::ALL.into_iter().find(|form| *form as u8 == header[5]);
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
    let back = columns::decode(&columns, bytes.len() as u64)?;
    (!long && back == bytes).then_some(columns)
}

/// The numbers of a text apart from it, if its very bytes come back from them.
fn as_keyed(bytes: &[u8]) -> Option<Vec<u8>> {
    let keyed = keyed::encode(bytes)?;
    let long = keyed.len() as u64 > most_keyed(bytes.len() as u64);
    let back = keyed::decode(&keyed, bytes.len() as u64)?;
    (!long && back == bytes).then_some(keyed)
}

/// Numbers that stay digits leave a mark where they stood, and have one more beside each other.
fn most_keyed(length: u64) -> u64 {
    length.saturating_mul(2).saturating_add(COLUMNS_MORE)
}

/// What packs and unpacks, made once a thread: making one takes longer than a card.
struct Tools {
    plain: (Compressor<'static>, Decompressor<'static>),
    with_words: (Compressor<'static>, Decompressor<'static>),
}

static WORDS_IN: LazyLock<EncoderDictionary<'static>> =
    LazyLock::new(|| EncoderDictionary::copy(WORDS, WORDS_LEVEL));
static WORDS_OUT: LazyLock<DecoderDictionary<'static>> =
    LazyLock::new(|| DecoderDictionary::copy(WORDS));

impl Tools {
    fn new() -> Option<Self> {
        let words = Compressor::with_prepared_dictionary(&WORDS_IN).ok()?;
        let words_out = Decompressor::with_prepared_dictionary(&WORDS_OUT).ok()?;
        Some(Self {
            plain: (Compressor::new(ZSTD_LEVEL).ok()?, Decompressor::new().ok()?),
            with_words: (words, words_out),
        })
    }
}

thread_local! {
    static TOOLS: RefCell<Option<Tools>> = const { RefCell::new(None) };
}

fn with_tools<T>(work: impl FnOnce(&mut Tools) -> Option<T>) -> Option<T> {
    TOOLS.with_borrow_mut(|tools| {
        if tools.is_none() {
            *tools = Tools::new();
        }
        work(tools.as_mut()?)
    })
}

fn squeeze(bytes: &[u8]) -> Option<Vec<u8>> {
    with_tools(|tools| tools.plain.0.compress(bytes).ok())
}

fn squeeze_with_words(bytes: &[u8]) -> Option<Vec<u8>> {
    with_tools(|tools| tools.with_words.0.compress(bytes).ok())
}

/// Unpacks to at most so many bytes.
fn unsqueeze(contents: &[u8], most: u64) -> Option<Vec<u8>> {
    with_tools(|tools| unpacked(&mut tools.plain.1, contents, most))
}

fn unsqueeze_with_words(contents: &[u8], most: u64) -> Option<Vec<u8>> {
    with_tools(|tools| unpacked(&mut tools.with_words.1, contents, most))
}

/// What is packed is at most so many times as long as what it is packed in: a block is of at most
/// 128 KiB, and takes four bytes at least (RFC 8878, 3.1.1.2).
const MOST_TIMES: u64 = 128 * 1024 / 4;

/// Asks for no more memory than what is there speaks for, whatever lengths are written in it.
fn unpacked(from: &mut Decompressor<'_>, contents: &[u8], most: u64) -> Option<Vec<u8>> {
    let room = (contents.len() as u64).saturating_mul(MOST_TIMES).min(most);
    from.decompress(contents, usize::try_from(room).ok()?).ok()
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

    /// What was packed with them is unpacked with these very bytes, or not at all.
    #[test]
    fn the_words_that_files_are_packed_with_never_change() {
        let digits = crate::record::archive::Digest::of(WORDS).to_string();
        let first = "efa062d5aa79495168c735ed910a66858ac9f33bafbefd910156d2faa1cdfbbd";
        assert_eq!(digits, first, "new words are another file, and other forms");
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

    /// A header that is in order, before contents that are not: so many bytes ask for no more memory
    /// than they could hold.
    #[test]
    fn lengths_that_lie_ask_for_no_memory() {
        let lying = |form: Form, contents: &[u8]| with_header(form, LONGEST, b"", contents);
        let mut rows = vec![0, 0];
        super::super::numbers::put_varint(&mut rows, 1_000_000_000_000_000_000);
        rows.push(0);
        let columns = squeeze(&rows).unwrap();
        assert!(unpack(&lying(Form::Columns, &columns)).is_err());
        let mut text = Vec::new();
        super::super::numbers::put_varint(&mut text, u64::MAX);
        let keyed = squeeze_with_words(&text).unwrap();
        assert!(unpack(&lying(Form::Keyed, &keyed)).is_err());
        // A frame that announces 2^62 bytes (RFC 8878, 3.1.1.1).
        let mut frame = vec![0x28, 0xb5, 0x2f, 0xfd, 0xe0];
        frame.extend((1_u64 << 62).to_le_bytes());
        frame.extend([1, 0, 0]);
        assert!(unpack(&lying(Form::Zstd, &frame)).is_err());
    }
}
