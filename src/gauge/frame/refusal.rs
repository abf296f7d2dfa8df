//! Why a line is refused.

/// Why a line was refused. It stays in the raw log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// More than 95 bytes before the line feed.
    Length,
    /// A byte that no line may hold, or no `*` where the checksum begins.
    Character,
    /// The checksum is not that of the body.
    Crc,
    /// Too few fields.
    Fields,
    /// A field has not the form that it should.
    Form,
}
