//! A record as a picture and as text.
