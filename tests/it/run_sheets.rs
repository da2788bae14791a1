//! An attempt's run sheet over HTTP: PDF, PNG and SVG, linked from its page, and the PDF as a reader of
//! PDF draws it.

use crate::{
    client::get,
    pages::filled,
    staging::{Folder, Service},
};
use std::process::Command;

#[test]
fn an_attempts_sheet_is_to_be_had_in_three_kinds() {
    let folder = Folder::new("sheets");
    filled(&folder.0, |played| played.attempt == 4 && played.over);
    let service = Service::plain(&folder.0);
    let at = service.address;
    let page = get(at, "/attempts/table/4").text();
    for (ending, media_type, begins) in [
        ("pdf", "application/pdf", &b"%PDF-1.7"[..]),
        ("png", "image/png", b"\x89PNG"),
        ("svg", "image/svg+xml; charset=utf-8", b"<svg"),
    ] {
        let address = format!("/api/attempts/4/sheet.{ending}?camera=table");
        assert!(page.contains(&address), "{address} is not on the page");
        let answer = get(at, &address);
        assert_eq!((answer.status, answer.header("content-type")), (200, Some(media_type)));
        assert!(answer.body.starts_with(begins));
    }
    let svg = get(at, "/api/attempts/4/sheet.svg").text();
    for part in
        ["<title>Attempt 4, run 30</title>", "Ended by a miss · the high run", "Rack 3: 2 balls"]
    {
        assert!(svg.contains(part), "{part} is not in {svg}");
    }
    get(at, "/api/attempts/99/sheet.pdf").is_problem(404, "not_found");
    get(at, "/api/attempts/1/sheet.pdf?camera=nobody").is_problem(404, "not_found");
    get(at, "/api/attempts/4/sheet.png?width=9000").is_problem(400, "query");
}

/// The pages of a PDF as pdftoppm draws them, 50 dots to the inch, in grey.
fn drawn(folder: &Folder, pdf: &[u8]) -> Vec<image::GrayImage> {
    let file = folder.0.join("sheet.pdf");
    std::fs::write(&file, pdf).unwrap();
    let mut command = Command::new("pdftoppm");
    command.args(["-r", "50", "-gray", "-png"]).arg(&file).arg(folder.0.join("page"));
    let done = command.output().expect("pdftoppm, of the package poppler-utils");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    assert!(done.stderr.is_empty(), "{}", String::from_utf8_lossy(&done.stderr));
    let mut pages: Vec<_> = std::fs::read_dir(&folder.0)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "png"))
        .collect();
    pages.sort();
    pages.iter().map(|path| image::open(path).unwrap().into_luma8()).collect()
}

#[test]
fn the_pdf_looks_as_its_drawing_does() {
    let folder = Folder::new("sheet-pdf");
    filled(&folder.0.join("data"), |played| played.attempt == 4 && played.over);
    let service = Service::plain(&folder.0.join("data"));
    let pages = drawn(&folder, &get(service.address, "/api/attempts/4/sheet.pdf").body);
    assert_eq!(pages.len(), 1);
    // A4 at 50 dots to the inch.
    assert_eq!(pages[0].dimensions(), (414, 585));
    let png = get(service.address, "/api/attempts/4/sheet.png?width=414").body;
    let png = image::load_from_memory(&png).unwrap().into_luma8();
    // The long sheet begins as the first page does: head and the first row of tables.
    let rows = 250;
    let off: u64 = (0..rows)
        .flat_map(|y| (0..413).map(move |x| (x, y)))
        .map(|(x, y)| u64::from(png.get_pixel(x, y)[0].abs_diff(pages[0].get_pixel(x, y)[0])))
        .sum();
    let mean = off as f64 / f64::from(rows * 413);
    assert!(mean < 6.0, "the PDF is off by {mean} of 255 on the mean");
    let dark = pages[0].pixels().filter(|pixel| pixel[0] < 128).count();
    assert!(dark > 5_000, "there is hardly anything on it: {dark}");
}
