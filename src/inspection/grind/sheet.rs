//! The lines of a set-up sheet, in the order of the work.

use crate::card::{GrinderCard, Wheel};
use crate::error::Result;
use crate::inspection::folder::Folder;
use crate::record::Setup;

pub(super) fn lines(
    _setup: &mut Setup,
    _folder: &Folder,
    _grinder: &GrinderCard,
    _wheel: &Wheel,
) -> Result<()> {
    Ok(())
}
