//! What is said with every answer that a person takes to a grinder.

/// Cautions, since a person goes on to a machine with it.
pub(super) const CARE: &str = "stop the wheel and lock it out before you set anything; ground edges cut; \
                    the wheel maker's speed limit and the shop's own rules go first";
