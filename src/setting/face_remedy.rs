//! What mends a figure of a tool that is ground on its face: its lands keep their form.

use super::remedy::{Measured, SETTABLE, and};
use super::{FaceStock, face_stock_turns};
use crate::card::{Limit, Name};
use crate::judge::Figure;
use crate::quantity::{Length, told};

impl Measured<'_> {
    /// What mends a failing figure; `None` where a grind on the face has nothing to say of it.
    pub(super) fn on_the_face(&self, figure: &Figure, value: f64, limit: Limit) -> Option<String> {
        let high = limit.max.is_some_and(|max| value > max);
        let tooth = figure.tooth;
        match figure.name {
            Name::WearLand | Name::EdgeRadius if high => {
                Some(self.face_back(tooth, Length::from_mm(value)))
            }
            Name::ReliefAngle
            | Name::Drop
            | Name::HeelClearance
            | Name::TotalRelief
            | Name::WearLand => Some(match self.worn(tooth) {
                Some(width) => self.face_back(tooth, width),
                None => "a grind on the face does not change its land: see that the face stands as it is drawn; what the land itself lacks, only relieving it anew brings".to_owned(),
            }),
            Name::EdgeSpread if high => self.faces_even(),
            _ => None,
        }
    }

    /// How far a face goes back until a width behind its edge is gone.
    fn face_back(&self, tooth: Option<usize>, width: Length) -> String {
        let turned = face_stock_turns(self.feature.diameter, FaceStock::AtEdge(width));
        let turned = turned.map_or(String::new(), |it| {
            format!(" ({:.2}° of its land)", it.deg())
        });
        let flute = tooth.map_or(String::new(), |tooth| format!(" of flute {}", tooth + 1));
        format!(
            "grind the face{flute} back by {}{turned} or more, and all others alike: `setting face DIR` tells how far for all edges",
            told::mm(width, 3)
        )
    }

    /// Whose faces go back by how much until all edges are as high as the lowest.
    fn faces_even(&self) -> Option<String> {
        let teeth = &self.judgement?.teeth;
        let heights = teeth.iter().map(|tooth| tooth.edge_height);
        let heights: Vec<Length> = heights.collect::<Option<_>>()?;
        let lowest = heights.iter().copied().reduce(Length::min)?;
        let radius = self.feature.diameter / 2.0;
        let mut each = Vec::new();
        for (at, height) in heights.iter().enumerate() {
            let stock = *height - lowest;
            if stock > SETTABLE {
                let relief = self.curve(Some(at))?.relief_behind_margin();
                let along = stock / relief.rad().tan();
                // Farther than this round nobody grinds a face to make edges even.
                if !(Length::ZERO..radius * 0.1).contains(&along) {
                    return None;
                }
                each.push(format!(
                    "{} off the face of flute {}",
                    told::mm(along, 3),
                    at + 1
                ));
            }
        }
        (!each.is_empty()).then(|| {
            format!(
                "to make all edges even, take {}, along the arc at the edge",
                and(&each)
            )
        })
    }
}
