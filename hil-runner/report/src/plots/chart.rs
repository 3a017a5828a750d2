//! Charts: drawn by a library into SVG, with colours that the page decides on, so that they follow its light and dark.
//!
//! The library writes colours as numbers. Each that is used here stands for a class of the style sheet, and is put in its place.

use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::{PlotError, letters, line, short};

const WIDTH: u32 = 760;
const HEIGHT: u32 = 300;
/// What a lane takes, and what is around all of them.
const LANE: u32 = 20;
const AROUND_LANES: u32 = 70;
/// Different lines; more than so many look like the first ones again.
pub(crate) const LOOKS: usize = 8;

const INK: RGBColor = RGBColor(1, 1, 1);
const RULE: RGBColor = RGBColor(2, 2, 2);
const AXIS: RGBColor = RGBColor(3, 3, 3);
const LIMIT: RGBColor = RGBColor(4, 4, 4);
const SHADE: RGBColor = RGBColor(5, 5, 5);
const LIMIT_TEXT: RGBColor = RGBColor(6, 6, 6);
const MARK: RGBColor = RGBColor(7, 7, 7);

/// What a number of a colour stands for: the number as the library writes it, and the class of the style sheet.
fn classes() -> Vec<(String, String)> {
    let named = [(INK, "i"), (RULE, "g"), (AXIS, "k"), (LIMIT, "l"), (SHADE, "h"), (LIMIT_TEXT, "lt"), (MARK, "m")];
    let hex = |RGBColor(red, green, blue): RGBColor| format!("#{red:02X}{green:02X}{blue:02X}");
    let lines = (0..LOOKS).map(|number| (hex(stroke(number)), format!("s{number}")));
    let dots = (0..LOOKS).map(|number| (hex(dot(number)), format!("f{number}")));
    named.into_iter().map(|(colour, class)| (hex(colour), class.to_owned())).chain(lines).chain(dots).collect()
}

const fn stroke(number: usize) -> RGBColor {
    RGBColor(16, 0, (number % LOOKS) as u8)
}

const fn dot(number: usize) -> RGBColor {
    RGBColor(17, 0, (number % LOOKS) as u8)
}

/// A curve or a cloud of points.
#[derive(Clone, Debug, Default)]
pub(crate) struct Curve {
    pub(crate) name: String,
    /// Which of the looks it has.
    pub(crate) look: usize,
    /// Lines; between them there is a gap.
    pub(crate) lines: Vec<Vec<(f64, f64)>>,
    /// Single points.
    pub(crate) points: Vec<(f64, f64)>,
}

/// One line of a legend.
pub(crate) struct LegendEntry {
    /// Class of its colour and dashes.
    pub(crate) class: String,
    pub(crate) name: String,
}

/// A chart of numbers over numbers.
pub(crate) struct Chart<'a> {
    /// Unique on the page.
    pub(crate) id: String,
    pub(crate) title: String,
    pub(crate) description: String,
    pub(crate) x_name: String,
    pub(crate) y_name: String,
    pub(crate) curves: Vec<Curve>,
    /// Horizontal lines that must not be crossed, with their names.
    pub(crate) limits: Vec<(f64, String)>,
    /// Spans of x in which something is out of order on purpose.
    pub(crate) shades: Vec<(f64, f64)>,
    /// Points with a ring around them.
    pub(crate) marks: Vec<(f64, f64)>,
    pub(crate) x_text: Box<dyn Fn(&f64) -> String + 'a>,
    pub(crate) y_text: Box<dyn Fn(&f64) -> String + 'a>,
    /// Names along the y axis, instead of numbers: the y of each must be a whole number from 0.
    pub(crate) lanes: Vec<String>,
}

impl Default for Chart<'_> {
    fn default() -> Self {
        Self {
            id: String::new(),
            title: String::new(),
            description: String::new(),
            x_name: String::new(),
            y_name: String::new(),
            curves: Vec::new(),
            limits: Vec::new(),
            shades: Vec::new(),
            marks: Vec::new(),
            x_text: Box::new(plain),
            y_text: Box::new(plain),
            lanes: Vec::new(),
        }
    }
}

/// A number as short as possible.
fn plain(number: &f64) -> String {
    short(*number, 3)
}

impl Chart<'_> {
    /// The chart as an SVG element. `None` if there is nothing to draw.
    pub(crate) fn svg(&self) -> Result<Option<String>, PlotError> {
        let Some(((x_least, x_most), (y_least, y_most))) = self.range() else { return Ok(None) };
        let mut svg = String::new();
        self.draw(&mut svg, x_least..x_most, y_least..y_most)?;
        Ok(Some(self.dressed(&svg)))
    }

    /// The legend: a line for each curve, if there are several.
    pub(crate) fn legend(&self) -> Vec<LegendEntry> {
        let key = |curve: &Curve| LegendEntry { class: format!("s{}", curve.look % LOOKS), name: curve.name.clone() };
        if self.curves.len() > 1 { self.curves.iter().map(key).collect() } else { Vec::new() }
    }

    /// Many lanes need more room.
    fn height(&self) -> u32 {
        HEIGHT.max(AROUND_LANES + LANE * u32::try_from(self.lanes.len()).unwrap_or(0))
    }

    fn points(&self) -> impl Iterator<Item = (f64, f64)> {
        self.curves.iter().flat_map(|curve| curve.lines.iter().flatten().chain(&curve.points)).copied()
    }

    /// The ranges of x and y, with a little room around.
    fn range(&self) -> Option<((f64, f64), (f64, f64))> {
        let span = |numbers: &mut dyn Iterator<Item = f64>| {
            numbers.filter(|number| number.is_finite()).fold(None, |span: Option<(f64, f64)>, number| {
                Some(span.map_or((number, number), |(least, most)| (least.min(number), most.max(number))))
            })
        };
        let x = span(&mut self.points().map(|(x, _)| x))?;
        let limits = self.limits.iter().map(|(y, _)| *y);
        let y = span(&mut self.points().map(|(_, y)| y).chain(limits))?;
        let wide = |(least, most): (f64, f64), share: f64| {
            let room = ((most - least) * share).max(most.abs().max(1.0) * 1e-3);
            (least - room, most + room)
        };
        let y = if self.lanes.is_empty() { wide(y, 0.08) } else { (-0.6, self.lanes.len() as f64 - 0.4) };
        Some((wide(x, 0.01), y))
    }

    fn draw(&self, svg: &mut String, x: std::ops::Range<f64>, y: std::ops::Range<f64>) -> Result<(), PlotError> {
        let root: DrawingArea<SVGBackend<'_>, Shift> =
            SVGBackend::with_string(svg, (WIDTH, self.height())).into_drawing_area();
        let lane_names = self.lanes.iter().map(|name| name.chars().count()).max().unwrap_or(0);
        let left = if self.lanes.is_empty() { 70 } else { 20 + 8 * u32::try_from(lane_names).unwrap_or(20).min(24) };
        let mut chart = ChartBuilder::on(&root)
            .margin(10)
            .x_label_area_size(42)
            .y_label_area_size(left)
            .build_cartesian_2d(x.clone(), y.clone())
            .map_err(|error| PlotError::of(&self.title, &error))?;
        let shades = self
            .shades
            .iter()
            .map(|(from, to)| Rectangle::new([(from.max(x.start), y.start), (to.min(x.end), y.end)], SHADE.filled()));
        chart.draw_series(shades).map_err(|error| PlotError::of(&self.title, &error))?;
        let font = letters(13, &INK, HPos::Left, VPos::Top);
        let lane = |number: &f64| {
            let whole = number.round();
            let name = self.lanes.get(whole as usize).filter(|_| (number - whole).abs() < 0.01 && whole >= 0.0);
            name.cloned().unwrap_or_default()
        };
        let y_text: &dyn Fn(&f64) -> String = if self.lanes.is_empty() { &*self.y_text } else { &lane };
        chart
            .configure_mesh()
            .light_line_style(TRANSPARENT)
            .bold_line_style(RULE)
            .axis_style(AXIS)
            .label_style(font.clone())
            .axis_desc_style(font.clone())
            .x_labels(8)
            .y_labels(if self.lanes.is_empty() { 6 } else { 2 * self.lanes.len() })
            .x_desc(&*self.x_name)
            .y_desc(&*self.y_name)
            .x_label_formatter(&*self.x_text)
            .y_label_formatter(y_text)
            .draw()
            .map_err(|error| PlotError::of(&self.title, &error))?;
        for (limit, name) in &self.limits {
            let line = line((x.start, *limit), (x.end, *limit), LIMIT, 2);
            let at = (x.start + 0.01 * (x.end - x.start), *limit);
            let style = letters(12, &LIMIT_TEXT, HPos::Left, VPos::Bottom);
            let label = Text::new(name.clone(), at, style);
            chart.draw_series([line]).map_err(|error| PlotError::of(&self.title, &error))?;
            chart.draw_series([label]).map_err(|error| PlotError::of(&self.title, &error))?;
        }
        for curve in &self.curves {
            for line in &curve.lines {
                let line = LineSeries::new(line.iter().copied(), stroke(curve.look).stroke_width(2));
                chart.draw_series(line).map_err(|error| PlotError::of(&self.title, &error))?;
            }
            let points = curve.points.iter().map(|point| Circle::new(*point, 3, dot(curve.look).filled()));
            chart.draw_series(points).map_err(|error| PlotError::of(&self.title, &error))?;
        }
        let marks = self.marks.iter().map(|point| Circle::new(*point, 7, MARK.stroke_width(2)));
        chart.draw_series(marks).map_err(|error| PlotError::of(&self.title, &error))?;
        drop(chart);
        root.present().map_err(|error| PlotError::of(&self.title, &error))
    }

    /// The library's SVG with names for those who do not see it, and classes in place of colours.
    fn dressed(&self, svg: &str) -> String {
        let body = svg.split_once('>').map_or("", |(_, body)| body);
        let mut body = body.to_owned();
        for (colour, class) in classes() {
            for attribute in ["fill", "stroke"] {
                let from = format!("{attribute}=\"{colour}\"");
                body = body.replace(&from, &format!("class=\"{class}\""));
            }
        }
        let height = self.height();
        let (id, title, description) = (&self.id, escaped(&self.title), escaped(&self.description));
        format!(
            "<svg viewBox=\"0 0 {WIDTH} {height}\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\">\
             <title id=\"{id}-t\">{title}</title><desc id=\"{id}-d\">{description}</desc>{body}"
        )
    }
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_colour_of_the_library_is_left_and_names_are_escaped() {
        let chart = Chart {
            id: "c".into(),
            title: "a < b".into(),
            x_name: "</text><script>".into(),
            curves: vec![Curve {
                name: "one".into(),
                look: 9,
                lines: vec![vec![(0.0, 1.0), (1.0, 2.0)]],
                points: vec![(0.5, 1.5)],
            }],
            limits: vec![(2.5, "most".into())],
            shades: vec![(0.2, 0.4)],
            marks: vec![(1.0, 2.0)],
            ..Chart::default()
        };
        let svg = chart.svg().unwrap().unwrap();
        assert!(svg.contains("a &lt; b") && !svg.contains("<script"), "{svg}");
        for class in ["i", "g", "k", "l", "h", "lt", "m", "s1", "f1"] {
            assert!(svg.contains(&format!("class=\"{class}\"")), "{class}: {svg}");
        }
        let coloured = svg.match_indices("=\"#").filter(|(at, _)| !svg[at + 3..].starts_with("000000")).count();
        assert_eq!(coloured, 0, "{svg}");
        roxmltree::Document::parse(&svg).unwrap();
    }

    #[test]
    fn nothing_is_drawn_from_nothing_and_one_point_is_drawn() {
        assert!(Chart::default().svg().unwrap().is_none());
        let one = Curve { points: vec![(1.0, 1.0)], ..Curve::default() };
        assert!(Chart { curves: vec![one], ..Chart::default() }.svg().unwrap().is_some());
    }
}
