//! Figures of the trade: relief by material, work and diameter, margins; each with where it stands.

use crate::card::choices::choices;
use crate::card::{Limit, Name, Surface};
use crate::quantity::{Angle, Length};

choices! {
    /// What is cut.
    Material {
        /// Plain and low-alloy steel.
        Steel = "steel",
        /// Stainless steel.
        StainlessSteel = "stainless-steel",
        /// Austenitic manganese steel.
        ManganeseSteel = "manganese-steel",
        /// Cast iron.
        CastIron = "cast-iron",
        /// Aluminium alloys.
        Aluminium = "aluminium",
        /// Magnesium alloys.
        Magnesium = "magnesium",
        /// Brass.
        Brass = "brass",
        /// Copper.
        Copper = "copper",
    }
    /// How a tool works, as far as figures of the trade differ by it.
    Work {
        /// Teeth that are fed into the work: milling cutters, counterbores, chamfer cutters.
        Cutter = "cutter",
        /// A tool with a margin that is guided by its own bore.
        Reamer = "reamer",
        /// Lips on a point.
        Drill = "drill",
    }
}

/// How well a figure is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Known {
    /// A range, quoted from the source named.
    Published,
    /// Printed as one figure without a range, of a shape that not every tool has, or recalled and not
    /// looked up: nothing is judged by it before a person says so.
    LeftOut,
}

/// What the trade knows of a characteristic.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Figure {
    /// In degrees or mm.
    pub limit: Limit,
    pub known: Known,
    /// Where it stands, and of what.
    pub source: String,
}

/// A face of a tool, as far as figures differ by it.
#[derive(Clone, Copy, PartialEq, Eq)]
enum On {
    Periphery,
    End,
    Chamfer,
}

/// One figure: work, where on the tool, material, characteristic, least, most, how well known, source.
type Row = (
    Work,
    On,
    Option<Material>,
    Name,
    (f64, Option<f64>),
    Known,
    &'static str,
);

const DRILLS: &str = "Mechanical Engineer's Data Handbook, p. 182: lip relief of drills";

/// The published rows stand in `tests/reference/trade_figures.csv` too.
#[rustfmt::skip]
const FIGURES: &[Row] = &[
    (Work::Cutter, On::Periphery, Some(Material::StainlessSteel), Name::ReliefAngle, (3.0, Some(10.0)), Known::Published,
        "T.O. 1-1A-9 / TM 43-0106, Aerospace Metals, p. 2-94: primary relief of high-speed steel cutters"),
    (Work::Cutter, On::Periphery, Some(Material::StainlessSteel), Name::PrimaryWidth, (0.508, Some(0.635)), Known::LeftOut,
        "T.O. 1-1A-9 / TM 43-0106, Aerospace Metals, p. 2-94: land of 0.020 to 0.025 in; for a land of two facets"),
    (Work::Cutter, On::Periphery, Some(Material::Steel), Name::ReliefAngle, (3.0, Some(5.0)), Known::LeftOut,
        "for milling cutters: G. Hughes, The Construction of the Modern Locomotive, Machine Shop, part 2: teeth of cylindrical milling cutters, varying with material"),
    (Work::Drill, On::End, Some(Material::ManganeseSteel), Name::ReliefAngle, (7.0, Some(10.0)), Known::Published, DRILLS),
    (Work::Drill, On::End, Some(Material::Aluminium), Name::ReliefAngle, (12.0, Some(15.0)), Known::Published, DRILLS),
    (Work::Drill, On::End, Some(Material::Magnesium), Name::ReliefAngle, (12.0, Some(15.0)), Known::Published, DRILLS),
    (Work::Drill, On::End, Some(Material::Brass), Name::ReliefAngle, (10.0, Some(12.0)), Known::Published, DRILLS),
    (Work::Drill, On::End, Some(Material::Copper), Name::ReliefAngle, (12.0, Some(15.0)), Known::Published, DRILLS),
    (Work::Drill, On::End, Some(Material::Steel), Name::ReliefAngle, (12.0, None), Known::LeftOut,
        "about 12, and no range: NIMI, CITS Fitter, Trade Practical, exercise 29: lip clearance for mild steel"),
    (Work::Cutter, On::Chamfer, None, Name::ReliefAngle, (6.0, Some(12.0)), Known::LeftOut, "from memory, not checked: countersinks"),
    (Work::Cutter, On::End, None, Name::ReliefAngle, (2.0, None), Known::LeftOut, "from memory, not checked: about 2 on end teeth"),
    (Work::Reamer, On::Chamfer, None, Name::ReliefAngle, (5.0, Some(10.0)), Known::LeftOut, "from memory, not checked: chamfers of reamers"),
    (Work::Reamer, On::Periphery, Some(Material::Steel), Name::WearLand, (0.1, Some(0.5)), Known::LeftOut, "from memory, not checked: margins of reamers for steel"),
];

/// From which diameter on, in inches, which least and greatest relief, in degrees. Recalled from a
/// handbook's table of indicator drops, and not looked up: `tests/reference/indicator_drop_peripheral.csv`.
const BY_DIAMETER: &[(f64, f64, f64)] = &[
    (0.0625, 20.0, 25.0),
    (0.09375, 16.0, 20.0),
    (0.125, 15.0, 19.0),
    (0.15625, 13.0, 17.0),
    (0.1875, 12.0, 16.0),
    (0.21875, 11.0, 15.0),
    (0.25, 10.0, 14.0),
    (0.3125, 10.0, 13.0),
    (0.40625, 9.0, 12.0),
    (0.625, 8.0, 11.0),
    (0.9375, 7.0, 10.0),
    (1.25, 6.0, 9.0),
    (2.25, 5.0, 8.0),
    (5.0, 4.0, 7.0),
];
/// The last diameter of that table.
const LAST_DIAMETER_IN: f64 = 12.0;

/// The place of a tool that figures are asked for.
#[derive(Clone, Copy)]
pub(super) struct Place {
    pub work: Work,
    pub material: Option<Material>,
    pub surface: Surface,
    /// Angle of an axial surface to the axis; square where nobody says.
    pub face: Option<Angle>,
    pub diameter: Option<Length>,
}

impl Place {
    /// What the trade knows of a characteristic there.
    pub(super) fn figure(&self, name: Name) -> Option<Figure> {
        // A row for a material goes before one for any.
        let row = |wanted: Option<Material>| {
            let mut rows = FIGURES.iter();
            rows.find(|row| {
                row.0 == self.work && row.1 == self.on() && row.2 == wanted && row.3 == name
            })
        };
        let of_material = self.material.and_then(|material| row(Some(material)));
        let found = of_material.or_else(|| row(None));
        let found = found.map(|(.., (min, max), known, source)| Figure {
            limit: Limit {
                min: Some(*min),
                max: *max,
            },
            known: *known,
            source: (*source).to_owned(),
        });
        found.or_else(|| self.by_diameter(name))
    }

    fn on(&self) -> On {
        // Lips of a drill stand askew and are named after its end.
        let askew = |face: Angle| (face.deg() - 90.0).abs() > 1.0 && self.work != Work::Drill;
        match self.surface {
            Surface::Radial => On::Periphery,
            Surface::Axial if self.face.is_some_and(askew) => On::Chamfer,
            Surface::Axial => On::End,
        }
    }

    fn by_diameter(&self, name: Name) -> Option<Figure> {
        let asked = self.work == Work::Cutter
            && self.surface == Surface::Radial
            && name == Name::ReliefAngle;
        let diameter = self.diameter.filter(|_| asked)?.inches();
        // A size that was typed in mm may miss that of the table by a rounding.
        let near = |from: f64| diameter >= from - 1e-9;
        let mut rows = BY_DIAMETER.iter().rev();
        let (_, min, max) = rows.find(|(from, ..)| near(*from))?;
        (diameter <= LAST_DIAMETER_IN + 1e-9).then(|| Figure {
            limit: Limit {
                min: Some(*min),
                max: Some(*max),
            },
            known: Known::LeftOut,
            source: "from memory, not checked: a handbook's radial relief of peripheral teeth of this diameter"
                .to_owned(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `tests/reference/indicator_drop_peripheral.csv`, whose angles are from memory as well.
    #[test]
    fn relief_by_diameter_is_that_of_the_recalled_table() {
        let table = include_str!("../../../tests/reference/indicator_drop_peripheral.csv");
        let mut rows = 0;
        for row in table
            .lines()
            .filter(|row| row.starts_with(|c: char| c.is_ascii_digit()))
        {
            let cells: Vec<&str> = row.split(',').collect();
            let place = Place {
                work: Work::Cutter,
                material: None,
                surface: Surface::Radial,
                face: None,
                diameter: cells[0].parse().ok().map(Length::from_in),
            };
            let limit = place.figure(Name::ReliefAngle).map(|it| it.limit);
            let end = limit.and_then(|it| if cells[2] == "min" { it.min } else { it.max });
            assert_eq!(end, cells[1].parse().ok(), "{row}");
            rows += 1;
        }
        assert!(rows > 60, "{rows}");
    }
}
