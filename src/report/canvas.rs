//! Lets `plotters` draw on a part of the page: hundredths of a millimetre, looks by class.

use super::sheet::{Anchor, Area, Face, Ink, Sheet};
use super::typeface::{self, Weight};
use crate::error::{Code, Error};
use plotters::element::{CoordMapper, Drawable, PointCollection};
use plotters::style::{RGBAColor, ShapeStyle};
use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
};
use std::fmt::Write;

/// Declares every pen once, with the class that gives it its looks.
macro_rules! pens {
    ($($(#[doc = $doc:literal])+ $name:ident = $class:literal,)+) => {
        /// What a line or a surface of a plot is. The page's style says how it looks.
        #[derive(Clone, Copy, PartialEq, Eq)]
        pub(super) enum Pen { $($(#[doc = $doc])+ $name,)+ }

        impl Pen {
            const fn class(self) -> &'static str {
                match self { $(Pen::$name => $class,)+ }
            }
        }
    };
}

pens! {
    /// The frame of a plot.
    Axis = "axis",
    /// A line of equal value.
    Grid = "grid",
    /// Where the surface is, with 95 % probability.
    Band = "band",
    /// A measured place.
    Measured = "measured",
    /// The fitted curve.
    Fitted = "fitted",
    /// The fitted curve where it is not to be trusted.
    Doubted = "doubted",
    /// What a land must stay below.
    Limit = "limit",
    /// Where no land may be.
    Barred = "barred",
    /// What has to come off.
    Off = "off",
    /// What the fitted curve leaves.
    Residual = "residual",
    /// What a drop may be.
    Window = "window",
    /// The land before the grind.
    Before = "before",
    /// Where nothing was read.
    Hole = "hole",
    /// Where clearance is least.
    Least = "least",
    /// A land on the section.
    Land = "land",
    /// What of a land stands higher than its edge, on the section.
    Over = "over",
    /// What is not land on the section.
    Gap = "gap",
    /// The circle of the highest edge.
    Round = "round",
}

impl Pen {
    /// An element of `plotters` that is drawn with this pen.
    pub(super) fn on<E>(self, element: E) -> Drawn<E> {
        Drawn { pen: self, element }
    }
}

/// For lines. `plotters` knows only colours, and the page has none of them.
pub(super) const LINE: ShapeStyle = ShapeStyle {
    color: RGBAColor(0, 0, 0, 1.0),
    filled: false,
    stroke_width: 1,
};

/// For surfaces.
pub(super) const FILL: ShapeStyle = ShapeStyle {
    filled: true,
    ..LINE
};

/// An element with the pen that it is drawn with.
pub(super) struct Drawn<E> {
    pen: Pen,
    element: E,
}

impl<'a, E, C, M> PointCollection<'a, C, M> for &'a Drawn<E>
where
    &'a E: PointCollection<'a, C, M>,
{
    type Point = <&'a E as PointCollection<'a, C, M>>::Point;
    type IntoIter = <&'a E as PointCollection<'a, C, M>>::IntoIter;

    fn point_iter(self) -> Self::IntoIter {
        self.element.point_iter()
    }
}

impl<'s, E, M> Drawable<Canvas<'s>, M> for Drawn<E>
where
    E: Drawable<Canvas<'s>, M>,
    M: CoordMapper,
{
    fn draw<I: Iterator<Item = M::Output>>(
        &self,
        points: I,
        canvas: &mut Canvas<'s>,
        size: (u32, u32),
    ) -> Done {
        let before = std::mem::replace(&mut canvas.pen, self.pen);
        let done = self.element.draw(points, canvas, size);
        canvas.pen = before;
        done
    }
}

/// A part of the page that `plotters` draws on.
pub(super) struct Canvas<'a> {
    sheet: &'a mut Sheet,
    area: Area,
    /// What is drawn with at present.
    pen: Pen,
}

impl<'a> Canvas<'a> {
    /// Takes this part of the page.
    pub(super) fn new(sheet: &'a mut Sheet, area: Area) -> Self {
        let pen = Pen::Axis;
        Self { sheet, area, pen }
    }

    fn on_page(&self, (x, y): BackendCoord) -> (i32, i32) {
        (self.area.x + x, self.area.y + y)
    }

    /// The path through these points, those that fall on their neighbour left out.
    fn track(&self, points: impl IntoIterator<Item = BackendCoord>) -> Option<String> {
        let mut points = points.into_iter().map(|point| self.on_page(point));
        let mut last = points.next()?;
        let mut d = format!("M{} {}", last.0, last.1);
        let start = d.len();
        for point in points.filter(|&(x, y)| x.abs() < FAR && y.abs() < FAR) {
            if point != last {
                let _ = write!(
                    d,
                    "{}{} {}",
                    if d.len() == start { "L" } else { " " },
                    point.0,
                    point.1
                );
                last = point;
            }
        }
        (d.len() > start).then_some(d)
    }
}

/// Beyond any page: a coordinate that `plotters` could not map.
const FAR: i32 = 1_000_000;

type Done = Result<(), DrawingErrorKind<std::fmt::Error>>;

impl DrawingBackend for Canvas<'_> {
    type ErrorType = std::fmt::Error;

    fn get_size(&self) -> (u32, u32) {
        (self.area.w.max(0) as u32, self.area.h.max(0) as u32)
    }

    fn ensure_prepared(&mut self) -> Done {
        Ok(())
    }

    fn present(&mut self) -> Done {
        Ok(())
    }

    fn draw_pixel(&mut self, point: BackendCoord, _: BackendColor) -> Done {
        let (x, y) = self.on_page(point);
        self.sheet.rect(self.pen.class(), Area { x, y, w: 1, h: 1 });
        Ok(())
    }

    fn draw_line<S: BackendStyle>(
        &mut self,
        from: BackendCoord,
        to: BackendCoord,
        style: &S,
    ) -> Done {
        self.draw_path([from, to], style)
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        _: &S,
    ) -> Done {
        if let Some(d) = self.track(path) {
            self.sheet.path(self.pen.class(), &d);
        }
        Ok(())
    }

    fn draw_rect<S: BackendStyle>(
        &mut self,
        from: BackendCoord,
        to: BackendCoord,
        _: &S,
        _: bool,
    ) -> Done {
        let (x, y) = self.on_page(from);
        let (w, h) = (to.0 - from.0, to.1 - from.1);
        self.sheet.rect(self.pen.class(), Area { x, y, w, h });
        Ok(())
    }

    fn draw_circle<S: BackendStyle>(
        &mut self,
        center: BackendCoord,
        radius: u32,
        _: &S,
        _: bool,
    ) -> Done {
        let center = self.on_page(center);
        self.sheet.circle(self.pen.class(), center, radius as i32);
        Ok(())
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        corners: I,
        _: &S,
    ) -> Done {
        if let Some(d) = self.track(corners) {
            self.sheet.path(self.pen.class(), &format!("{d}Z"));
        }
        Ok(())
    }

    fn draw_text<S: BackendTextStyle>(&mut self, text: &str, style: &S, at: BackendCoord) -> Done {
        let face = face(style);
        let anchor = match style.anchor().h_pos {
            HPos::Left => Anchor::Start,
            HPos::Center => Anchor::Middle,
            HPos::Right => Anchor::End,
        };
        // The height of capitals and figures is 0.73 of the size in every face asked for.
        let capitals = face.size * 73 / 100;
        let (x, y) = self.on_page(at);
        let base = match style.anchor().v_pos {
            VPos::Top => y + capitals,
            VPos::Center => y + capitals / 2,
            VPos::Bottom => y,
        };
        self.sheet.text((x, base), anchor, face, text);
        Ok(())
    }

    fn estimate_text_size<S: BackendTextStyle>(
        &self,
        text: &str,
        style: &S,
    ) -> Result<(u32, u32), DrawingErrorKind<Self::ErrorType>> {
        let face = face(style);
        let width = typeface::width(text, face.size, face.weight);
        Ok((width.max(0) as u32, face.size.max(0) as u32))
    }
}

/// The face of a text in a plot: of its size, quiet.
fn face<S: BackendTextStyle>(style: &S) -> Face {
    Face {
        size: style.size().round() as i32,
        weight: Weight::Regular,
        ink: Ink::Quiet,
    }
}

/// What `plotters` could not draw, as an error of ours.
pub(super) fn undrawn(error: impl std::fmt::Display) -> Error {
    Error::new(
        Code::Internal,
        format!("a plot could not be drawn: {error}"),
    )
    .help("keep the folder and report this")
}
