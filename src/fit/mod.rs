//! The curve of a land: families, how they are fitted, which one is chosen, whether to trust it.
//!
//! A fit works on [`LandPoint`]s: arc behind the edge and how far the surface lies below the edge.
//! Every curve goes through the edge; an `edge_offset` is fitted beside it, since the edge's own
//! height is known no better than it was measured.
