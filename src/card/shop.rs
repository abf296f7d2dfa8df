//! The shop's card: what a certificate says of who issues it.

use super::keys;
use super::page::Page;
use super::reader::Reader;
use super::writer::Writer;
use crate::error::Result;

/// Who issues certificates.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ShopCard {
    /// The shop's name.
    pub name: String,
    /// Where it is, in one line.
    pub address: Option<String>,
    /// Who authorises what it issues.
    pub authorised_by: Option<String>,
}

impl ShopCard {
    /// Reads a shop's card; `file` names it in messages. Everything wrong with it is told at once.
    ///
    /// # Errors
    /// With the code `card` or `toml`, and each place.
    pub fn parse(text: &str, file: &str) -> Result<Self> {
        let page = Page::new(text, file);
        let entries = page.parse()?;
        let card = Reader::top(&page, keys::SHOP, &entries).and_then(|top| {
            let (name, address) = (top.text("name"), top.text("address"));
            let authorised_by = top.text("authorised_by");
            Some(Self {
                name: name?,
                address,
                authorised_by,
            })
        });
        page.finish(card)
    }

    /// The card as a person would write it.
    pub fn to_toml(&self) -> String {
        let mut out = Writer::new();
        out.text("name", &self.name);
        for (key, text) in [
            ("address", &self.address),
            ("authorised_by", &self.authorised_by),
        ] {
            if let Some(text) = text {
                out.text(key, text);
            }
        }
        out.finish()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_card_reads_back_as_it_was_printed() {
        let card = ShopCard {
            name: "Valve block tools".to_owned(),
            address: Some("Mill Lane 3".to_owned()),
            authorised_by: None,
        };
        assert_eq!(ShopCard::parse(&card.to_toml(), "shop.toml").unwrap(), card);
        let told = ShopCard::parse("schema = 1\nnam = \"a\"\n", "shop.toml").unwrap_err();
        assert!(told.to_string().contains("name"), "{told}");
    }
}
