//! Drawings as PDF, one to a page, taken over from their SVG as lines and shapes.
//!
//! Input: SVG documents, and how many of their units are a millimetre. Output: a PDF whose pages are
//! as large as the drawings. Method: the same tree that is rasterised for PNG is walked, path by path
//! (ISO 32000-1, 8.5). Fills and strokes of one colour, with their opacity, are all that our drawings
//! have; anything else is refused, so that nothing is ever missing from a page.

use super::DiagramError;
use miniz_oxide::deflate::compress_to_vec_zlib;
use pdf_writer::{
    Content, Filter, Finish, Name, Pdf, Rect, Ref, TextStr,
    types::{LineCapStyle, LineJoinStyle},
};
use resvg::{
    tiny_skia::{Path as Outline, PathSegment},
    usvg::{self, Color, FillRule, Group, LineCap, LineJoin, Node, Paint, Path, Transform},
};
use std::collections::BTreeMap;

const POINTS_PER_MM: f32 = 72.0 / 25.4;
/// How hard page contents are compressed, 0 to 10.
const PRESSED: u8 = 6;

/// Opacities that pages ask for, in thousandths, each with what it is called.
type Opacities = BTreeMap<u16, String>;

/// Drawings as the pages of a PDF.
///
/// # Errors
/// Where a drawing is no SVG, or holds something that no drawing of ours does.
pub fn pdf_of(pages: &[String], title: &str, units_per_mm: f64) -> Result<Vec<u8>, DiagramError> {
    let scale = POINTS_PER_MM / units_per_mm as f32;
    let mut drawn = Vec::with_capacity(pages.len());
    let mut opacities = Opacities::new();
    for page in pages {
        let tree = usvg::Tree::from_str(page, &usvg::Options::default())
            .map_err(|error| DiagramError::Raster { why: error.to_string() })?;
        let (width, height) = (tree.size().width() * scale, tree.size().height() * scale);
        let mut content = Content::new();
        // A drawing's y runs down, a page's runs up.
        content.transform([scale, 0.0, 0.0, -scale, 0.0, height]);
        group(&mut content, tree.root(), &mut opacities)?;
        drawn.push((compress_to_vec_zlib(&content.finish(), PRESSED), [width, height]));
    }
    Ok(bound(&drawn, title, &opacities))
}

/// The document around its pages' contents.
fn bound(pages: &[(Vec<u8>, [f32; 2])], title: &str, opacities: &Opacities) -> Vec<u8> {
    let [catalog, tree, about] = [1, 2, 3].map(Ref::new);
    let page_of = |at: usize| Ref::new(4 + 2 * at as i32);
    let content_of = |at: usize| Ref::new(5 + 2 * at as i32);
    let mut pdf = Pdf::new();
    let mut root = pdf.catalog(catalog);
    root.pages(tree).lang(TextStr("en"));
    root.viewer_preferences().display_doc_title(true);
    root.finish();
    pdf.document_info(about).title(TextStr(title)).creator(TextStr("Stillcloth"));
    pdf.pages(tree).kids((0..pages.len()).map(page_of)).count(pages.len() as i32);
    for (at, (content, [width, height])) in pages.iter().enumerate() {
        let mut page = pdf.page(page_of(at));
        page.parent(tree).media_box(Rect::new(0.0, 0.0, *width, *height)).contents(content_of(at));
        let mut resources = page.resources();
        let mut states = resources.ext_g_states();
        for (thousandths, name) in opacities {
            let part = f32::from(*thousandths) / 1000.0;
            let mut state = states
                .insert(Name(name.as_bytes()))
                .start::<pdf_writer::writers::ExtGraphicsState<'_>>();
            state.stroking_alpha(part).non_stroking_alpha(part);
        }
        states.finish();
        resources.finish();
        page.finish();
        pdf.stream(content_of(at), content).filter(Filter::FlateDecode);
    }
    pdf.finish()
}

fn strange(what: &str) -> DiagramError {
    DiagramError::Raster { why: format!("a drawing holds {what}, which its PDF cannot") }
}

fn group(
    content: &mut Content,
    group: &Group,
    opacities: &mut Opacities,
) -> Result<(), DiagramError> {
    if group.should_isolate() {
        return Err(strange("a group with an effect of its own"));
    }
    for node in group.children() {
        match node {
            Node::Group(inner) => self::group(content, inner, opacities)?,
            Node::Path(path) if path.is_visible() => self::path(content, path, opacities)?,
            Node::Path(_) => {}
            Node::Image(_) => return Err(strange("a picture")),
            Node::Text(_) => return Err(strange("text of a font")),
        }
    }
    Ok(())
}

fn path(content: &mut Content, path: &Path, opacities: &mut Opacities) -> Result<(), DiagramError> {
    let Transform { sx, kx, ky, sy, tx, ty } = path.abs_transform();
    content.save_state().transform([sx, ky, kx, sy, tx, ty]);
    if let Some(fill) = path.fill() {
        let [red, green, blue] = colour(fill.paint())?;
        content.set_fill_rgb(red, green, blue);
        opacity(content, fill.opacity().get(), opacities);
        outline(content, path.data());
        match fill.rule() {
            FillRule::NonZero => content.fill_nonzero(),
            FillRule::EvenOdd => content.fill_even_odd(),
        };
    }
    if let Some(stroke) = path.stroke() {
        let [red, green, blue] = colour(stroke.paint())?;
        content.set_stroke_rgb(red, green, blue);
        opacity(content, stroke.opacity().get(), opacities);
        content.set_line_width(stroke.width().get());
        content.set_line_cap(match stroke.linecap() {
            LineCap::Butt => LineCapStyle::ButtCap,
            LineCap::Round => LineCapStyle::RoundCap,
            LineCap::Square => LineCapStyle::ProjectingSquareCap,
        });
        content.set_line_join(match stroke.linejoin() {
            LineJoin::Miter | LineJoin::MiterClip => LineJoinStyle::MiterJoin,
            LineJoin::Round => LineJoinStyle::RoundJoin,
            LineJoin::Bevel => LineJoinStyle::BevelJoin,
        });
        content.set_miter_limit(stroke.miterlimit().get());
        if let Some(dashes) = stroke.dasharray() {
            content.set_dash_pattern(dashes.iter().copied(), stroke.dashoffset());
        }
        outline(content, path.data());
        content.stroke();
    }
    content.restore_state();
    Ok(())
}

fn colour(paint: &Paint) -> Result<[f32; 3], DiagramError> {
    let &Paint::Color(Color { red, green, blue }) = paint else {
        return Err(strange("a colour that runs"));
    };
    Ok([red, green, blue].map(|part| f32::from(part) / 255.0))
}

fn opacity(content: &mut Content, part: f32, opacities: &mut Opacities) {
    let thousandths = (1000.0 * part).round() as u16;
    let name = opacities.entry(thousandths).or_insert_with(|| format!("o{thousandths}"));
    content.set_parameters(Name(name.as_bytes()));
}

fn outline(content: &mut Content, outline: &Outline) {
    let mut at = [0.0, 0.0];
    for segment in outline.segments() {
        match segment {
            PathSegment::MoveTo(to) => {
                content.move_to(to.x, to.y);
                at = [to.x, to.y];
            }
            PathSegment::LineTo(to) => {
                content.line_to(to.x, to.y);
                at = [to.x, to.y];
            }
            PathSegment::QuadTo(by, to) => {
                // The cubic that runs the same way.
                let third = |from: f32, by: f32| from + 2.0 / 3.0 * (by - from);
                let (x1, y1) = (third(at[0], by.x), third(at[1], by.y));
                let (x2, y2) = (third(to.x, by.x), third(to.y, by.y));
                content.cubic_to(x1, y1, x2, y2, to.x, to.y);
                at = [to.x, to.y];
            }
            PathSegment::CubicTo(one, two, to) => {
                content.cubic_to(one.x, one.y, two.x, two.y, to.x, to.y);
                at = [to.x, to.y];
            }
            PathSegment::Close => {
                content.close_path();
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHEET: &str = r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="-5 -5 210 110" width="210" height="110">
        <rect x="0" y="0" width="20" height="10" fill="#ff0000"/>
        <g transform="translate(100 50) scale(2)"><path d="M0 0Q5 5 10 0" fill="none"
            stroke="#0000ff" stroke-opacity="0.5" stroke-width="3" stroke-dasharray="4 2"/></g></svg>"##;

    fn contents(pdf: &[u8]) -> String {
        let find = |what: &[u8], from: usize| {
            pdf[from..].windows(what.len()).position(|at| at == what).unwrap() + from
        };
        let begins = find(b"stream\n", 0) + 7;
        let ends = find(b"\nendstream", begins);
        let bytes = miniz_oxide::inflate::decompress_to_vec_zlib(&pdf[begins..ends]).unwrap();
        String::from_utf8(bytes).unwrap()
    }

    #[test]
    fn a_page_is_as_large_as_its_drawing_and_draws_the_same() {
        let pdf = pdf_of(&[SHEET.into(), SHEET.into()], "Two", 10.0).unwrap();
        let text = String::from_utf8_lossy(&pdf);
        assert!(text.starts_with("%PDF-1.7") && text.trim_end().ends_with("%%EOF"));
        // 21 by 11 mm.
        assert_eq!(text.matches("/MediaBox [0 0 59.52756 31.181105]").count(), 2, "{text}");
        let drawn = contents(&pdf);
        for part in [
            "1 0 0 rg",
            "0 0 1 RG",
            "/o500 gs",
            "[4 2] 0 d",
            "2 0 0 2 105 55 cm",
            "3.3333335 3.3333335 6.6666665 3.3333335 10 0 c",
        ] {
            assert!(drawn.contains(part), "{part} is not in\n{drawn}");
        }
    }

    #[test]
    fn what_would_be_missing_is_refused() {
        let svg = |inner: &str| {
            format!(r#"<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9">{inner}</svg>"#)
        };
        let runs = r##"<linearGradient id="a"><stop stop-color="red"/><stop offset="1"
            stop-color="blue"/></linearGradient><rect width="5" height="5" fill="url(#a)"/>"##;
        let faint =
            r#"<g opacity="0.5"><rect width="5" height="5"/><rect width="6" height="2"/></g>"#;
        for (inner, told) in [(runs, "a colour that runs"), (faint, "an effect of its own")] {
            let error = pdf_of(&[svg(inner)], "", 1.0).unwrap_err().to_string();
            assert!(error.contains(told), "{error}");
        }
        assert!(pdf_of(&["no drawing".into()], "", 1.0).is_err());
    }
}
