//! Every reader of bytes that come from outside, each as a function that takes any bytes: it must
//! neither panic nor give what is no number. `tests/tool/past.rs` runs the same functions on the
//! corpus and on every input that ever broke one.

use heelclear::card::{GaugeCard, GrinderCard, InspectionCard, Link, Positive, ShopCard, ToolCard};
use heelclear::gauge::frame::Command;
use heelclear::gauge::raw_log::arrivals;
use heelclear::gauge::text::TextPattern;
use heelclear::inspection::{Folder, verify_with};
use heelclear::judge::Effort;
use heelclear::quantity::typed::{self, Bare};
use heelclear::quantity::{Length, Time};
use heelclear::record::archive::{
    Contents, Digest, Form, Place, StoredFile, form, joined, pack, unpack,
};
use heelclear::record::{Record, Setup};
use heelclear::sample::{Bench, FromBridge, FromText, Sample};
use heelclear::simulator::Scenario;
use heelclear::trace::align;
use heelclear::trace::csv::{self, Rows};
use heelclear::{page, report, study};
use std::io::{Read, Write};
use std::net::{Shutdown, SocketAddr, TcpStream};
use std::path::Path;
use std::sync::OnceLock;
use std::time::Duration;

/// What takes the bytes of one input.
pub type Target = fn(&[u8]);

/// Every target by its name, which is that of its folder in the corpus.
pub const TARGETS: [(&str, Target); 17] = [
    ("bridge", bridge),
    ("text", text),
    ("log", log),
    ("csv", trace_file),
    ("table", table),
    ("tool", tool),
    ("gauge", gauge),
    ("inspection", inspection),
    ("grinder", grinder),
    ("shop", shop),
    ("recipe", recipe),
    ("typed", typed_words),
    ("blob", blob),
    ("columns", columns),
    ("verdict", verdict),
    ("page", page_request),
    ("folder", folder),
];

fn bench() -> Bench {
    Bench::new(Length::from_um(1.0), 4000, false)
}

fn finite(sample: &Sample) -> bool {
    sample.time.is_finite() && sample.angle.is_finite() && sample.reading.is_finite()
}

/// The bytes in pieces as long as the first byte says, and the rest of them.
fn pieces(bytes: &[u8]) -> impl Iterator<Item = &[u8]> {
    let (length, rest) = match bytes.split_first() {
        Some((first, rest)) => (usize::from(*first) + 1, rest),
        None => (1, bytes),
    };
    rest.chunks(length)
}

fn bridge(bytes: &[u8]) {
    let mut lines = FromBridge::new(bench());
    for (at, piece) in pieces(bytes).enumerate() {
        lines.feed(piece);
        if at % 64 == 63 {
            lines.replugged();
        }
    }
    assert!(lines.since(0).all(|sample| finite(&sample)));
    assert!(lines.positions_since(0).all(|it| it.angle.is_finite()));
    let _ = (lines.tally(), lines.index_place());
    let _ = Command::decode(bytes);
}

fn text(bytes: &[u8]) {
    static READ: OnceLock<Vec<TextPattern>> = OnceLock::new();
    const PATTERNS: [&str; 4] = [
        r"(?<reading>[-+0-9.]+)",
        r"(?<reading>[^@ ]*) ?(?<unit>in|mm|µm)?@(?<count>.*)",
        r"(?<time>[^;]*);(?<angle>[^;]*);(?<reading>[^;]*)",
        r"^(?<reading>\S+) (?<count>-?\d+)$",
    ];
    let Some((first, rest)) = bytes.split_first() else {
        return;
    };
    let read = READ.get_or_init(|| {
        let link = |pattern: &&str| Link {
            pattern: Some((*pattern).to_owned()),
            unit: Some("mm".to_owned()),
            ..Link::default()
        };
        let patterns = PATTERNS.iter().map(link);
        let patterns = patterns.map(|link| TextPattern::of_indicator(&link));
        patterns.map(|it| it.expect("a pattern")).collect()
    });
    let Some(pattern) = read.get(usize::from(*first) % PATTERNS.len()) else {
        return;
    };
    let mut lines = FromText::new(pattern.clone(), bench());
    for (at, piece) in (0_u32..).zip(pieces(rest)) {
        lines.feed(piece, Time::from_s(f64::from(at) * 0.01));
        lines.shed();
    }
    let found = lines.since(0, None);
    assert!(found.samples.iter().all(finite));
    assert!(found.heights.iter().all(|it| it.reading.is_finite()));
    assert!(found.positions.iter().all(|it| it.angle.is_finite()));
}

fn log(bytes: &[u8]) {
    for arrival in arrivals(bytes) {
        assert!(arrival.time_s.is_finite());
    }
}

fn trace_file(bytes: &[u8]) {
    let Ok(table) = csv::read(bytes, "trace.csv") else {
        return;
    };
    if let Rows::Turning(samples) = table.rows {
        assert!(samples.iter().all(finite));
        let again = align::one_clock(samples, Positive::Backing);
        assert!(again.iter().all(finite));
    }
}

fn table(bytes: &[u8]) {
    let _ = study::read_table(bytes, "table.csv");
}

/// What is written of a card that was read is read again, as the same.
macro_rules! card {
    ($bytes:ident, $card:ty) => {
        if let Ok(text) = std::str::from_utf8($bytes)
            && let Ok(card) = <$card>::parse(text, "card.toml")
        {
            let written = card.to_toml();
            let again = <$card>::parse(&written, "card.toml");
            assert!(again.is_ok_and(|again| again == card), "{written}");
        }
    };
}

fn tool(bytes: &[u8]) {
    card!(bytes, ToolCard);
}

fn gauge(bytes: &[u8]) {
    card!(bytes, GaugeCard);
}

fn inspection(bytes: &[u8]) {
    card!(bytes, InspectionCard);
}

fn grinder(bytes: &[u8]) {
    card!(bytes, GrinderCard);
}

fn shop(bytes: &[u8]) {
    card!(bytes, ShopCard);
}

fn recipe(bytes: &[u8]) {
    if let Ok(text) = std::str::from_utf8(bytes) {
        let _ = Scenario::from_toml(text, "recipe.toml");
        let _ = Digest::all_in(text);
    }
}

fn typed_words(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    assert!(typed::length(text).map_or(true, |it| it.is_finite()));
    assert!(typed::angle(text).map_or(true, |it| it.is_finite()));
    assert!(typed::taper(text).map_or(true, |it| it.is_finite()));
    let _ = typed::lengths(text, Bare::Mm, None);
}

fn blob(bytes: &[u8]) {
    let _ = form(bytes);
    let _ = unpack(bytes);
    // As a file, whatever it is called: its very bytes come back.
    for name in ["a.csv", "a.json", "a.toml", "a.log"] {
        assert!(unpack(&pack(name, bytes)).is_ok_and(|back| back == bytes));
    }
}

fn columns(bytes: &[u8]) {
    let Some((length, columns)) = bytes.split_first() else {
        return;
    };
    let length = 1_u64 << (length % 22);
    for form in [Form::Columns, Form::Keyed] {
        let file = joined(form, columns, length);
        assert!(file.is_none_or(|file| file.len() <= 4 * length as usize + 4096));
    }
}

fn verdict(bytes: &[u8]) {
    if let Ok(setup) = Setup::parse(bytes, "setup.json", "VB-07") {
        let _ = report::setup_text(&setup, report::Units::Metric);
    }
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    if let Ok(record) = Record::from_json(text, "verdict.json") {
        let _ = report::headline(&record, report::Units::Inch);
        let drawn = report::svg(&record);
        assert!(drawn.is_err() || drawn.is_ok_and(|svg| !svg.contains("NaN")));
    }
}

const TOKEN: &str = "led-by-coverage";

/// A page that listens, on the folder that it was started in.
fn listening() -> SocketAddr {
    static PAGE: OnceLock<SocketAddr> = OnceLock::new();
    *PAGE.get_or_init(|| {
        let (tell, told) = std::sync::mpsc::channel();
        std::thread::spawn(move || {
            let Ok(folder) = tempfile::tempdir() else {
                return;
            };
            let settings = page::PageSettings {
                address: SocketAddr::from(([127, 0, 0, 1], 0)),
                token: page::Token::given(TOKEN).expect("a token"),
                folder: folder.path().join("bench"),
                archive: Place::File(folder.path().join("archive.db")),
                limits: page::Limits::default(),
            };
            let ready = |address| {
                let _ = tell.send(address);
            };
            let served = page::serve(&settings, ready, std::future::pending());
            drop((served, folder));
        });
        told.recv().expect("the page listens")
    })
}

/// `\x01` stands for the host and the token that the page wants, so that what is behind them is seen.
fn page_request(bytes: &[u8]) {
    let address = listening();
    let Ok(mut stream) = TcpStream::connect(address) else {
        return;
    };
    let _ = stream.set_read_timeout(Some(Duration::from_secs(20)));
    let known = format!(
        "Host: {address}\r\nX-Heelclear: 1\r\nCookie: heelclear_{}={TOKEN}\r\nConnection: close\r\n",
        address.port()
    );
    for part in bytes.split_inclusive(|byte| *byte == 1) {
        let (plain, marked) = match part.split_last() {
            Some((1, plain)) => (plain, true),
            _ => (part, false),
        };
        if stream.write_all(plain).is_err()
            || (marked && stream.write_all(known.as_bytes()).is_err())
        {
            return;
        }
    }
    let _ = stream.shutdown(Shutdown::Write);
    let mut answer = [0; 4096];
    // The stream of events has no end; what begins it is enough.
    let read = stream.read(&mut answer);
    assert!(
        !read.is_err_and(|fault| fault.kind() == std::io::ErrorKind::WouldBlock),
        "the page did not answer"
    );
}

/// The files of a folder: each begins with a line of `\x02` and its name.
fn folder(bytes: &[u8]) {
    let Ok(made) = tempfile::tempdir_in(if Path::new("/dev/shm").is_dir() {
        "/dev/shm"
    } else {
        "."
    }) else {
        return;
    };
    for file in bytes.split(|byte| *byte == 2).skip(1) {
        let cut = file.iter().position(|byte| *byte == b'\n');
        let (name, contents) = file.split_at(cut.map_or(file.len(), |at| at + 1));
        let name = String::from_utf8_lossy(name);
        let name = name.trim();
        let plain = |part: &str| !part.is_empty() && !part.starts_with('.') && !part.contains('\0');
        if name.is_empty() || name.split('/').count() > 3 || !name.split('/').all(plain) {
            continue;
        }
        let path = made.path().join(name);
        if let Some(above) = path.parent() {
            let _ = std::fs::create_dir_all(above);
        }
        let _ = std::fs::write(path, contents);
    }
    let _ = Contents::read(made.path(), report::svg_by);
    let _ = StoredFile::all_of(made.path());
    let effort = Effort {
        trials: Some(0),
        ..Effort::default()
    };
    if let Ok(folder) = Folder::open(made.path())
        && let Ok(record) = verify_with(&folder, effort)
        && let Ok(json) = record.to_json()
    {
        assert!(Record::from_json(&json, "verdict.json").is_ok_and(|back| back == record));
    }
}
