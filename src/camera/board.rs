//! Printable boards for calibrating a lens: a plain chessboard and a ChArUco board.
//!
//! A page is SVG in millimetres at its exact size, with a bar along each direction that shows
//! whether the printer kept to it. A ChArUco board carries a marker of OpenCV's dictionary
//! `DICT_4X4_50` in each white square, so that it is found when part of it is out of the frame;
//! its markers count from the upper left, row by row. The number of rows is odd, since OpenCV
//! changed which corner is black for even ones in version 4.6. Knows paper, not pictures: finding a
//! board in a frame is `vision`'s.

use opencv::aruco;
use opencv::core::{Mat, MatTraitConst, Ptr};
use std::fmt::Write as _;
use std::str::FromStr;
use thiserror::Error;

/// What is printed on a board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BoardKind {
    Chessboard,
    /// A chessboard with a marker in each white square.
    Charuco,
}

/// Paper in landscape.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    A4,
    A3,
}

/// Why there is no board.
#[derive(Debug, Error)]
pub enum BoardError {
    #[error("'{text}' is no kind of board: give chessboard or charuco")]
    UnknownKind { text: String },
    #[error("'{text}' is no paper that boards are made for: give a4 or a3")]
    UnknownPaper { text: String },
    #[error("OpenCV made no markers: {source}. Its contrib modules have to be installed")]
    Markers {
        #[from]
        source: opencv::Error,
    },
}

impl FromStr for BoardKind {
    type Err = BoardError;
    fn from_str(text: &str) -> Result<Self, BoardError> {
        match text.to_ascii_lowercase().as_str() {
            "chessboard" => Ok(Self::Chessboard),
            "charuco" => Ok(Self::Charuco),
            _ => Err(BoardError::UnknownKind { text: text.into() }),
        }
    }
}

impl FromStr for Paper {
    type Err = BoardError;
    fn from_str(text: &str) -> Result<Self, BoardError> {
        match text.to_ascii_lowercase().as_str() {
            "a4" => Ok(Self::A4),
            "a3" => Ok(Self::A3),
            _ => Err(BoardError::UnknownPaper { text: text.into() }),
        }
    }
}

impl Paper {
    fn size_mm(self) -> [f64; 2] {
        match self {
            Self::A4 => [297.0, 210.0],
            Self::A3 => [420.0, 297.0],
        }
    }
}

/// A board as it lies on its page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Board {
    pub kind: BoardKind,
    /// Squares to a row and to a column.
    pub columns: u16,
    pub rows: u16,
    pub square_mm: f64,
    /// Side of a marker, its black border included.
    pub marker_mm: f64,
    page_mm: [f64; 2],
}

/// Cells to a marker's side, its border included: four by four bits in a border of one.
const MARKER_CELLS: i32 = 6;

impl Board {
    /// The board that is printed on a paper: ten by seven squares.
    pub fn on(kind: BoardKind, paper: Paper) -> Self {
        let (square_mm, marker_mm) = match paper {
            Paper::A4 => (25.0, 18.0),
            Paper::A3 => (36.0, 26.0),
        };
        Self { kind, columns: 10, rows: 7, square_mm, marker_mm, page_mm: paper.size_mm() }
    }

    /// The page's width and height.
    pub fn page_mm(&self) -> [f64; 2] {
        self.page_mm
    }

    /// The board's upper left corner on the page, y down.
    pub fn corner_mm(&self) -> [f64; 2] {
        let [width_mm, height_mm] = self.page_mm;
        let high_mm = f64::from(self.rows) * self.square_mm;
        let left_mm = (width_mm - f64::from(self.columns) * self.square_mm) / 2.0;
        // The words below want more room than the edge above.
        [left_mm, (height_mm - high_mm) / 2.0 - 5.0]
    }

    /// Whether a square is black, counted from the upper left, which is.
    fn black(column: u16, row: u16) -> bool {
        (column + row).is_multiple_of(2)
    }

    /// Every square of one colour, row by row.
    fn squares(&self, black: bool) -> impl Iterator<Item = [u16; 2]> {
        let columns = self.columns;
        (0..self.rows)
            .flat_map(move |row| (0..columns).map(move |column| [column, row]))
            .filter(move |[column, row]| Self::black(*column, *row) == black)
    }

    /// The board in OpenCV's terms, in millimetres.
    ///
    /// # Errors
    /// Where OpenCV refuses.
    pub(crate) fn charuco(&self) -> opencv::Result<Ptr<aruco::CharucoBoard>> {
        aruco::CharucoBoard::create(
            i32::from(self.columns),
            i32::from(self.rows),
            self.square_mm as f32,
            self.marker_mm as f32,
            &Self::dictionary()?,
        )
    }

    pub(crate) fn dictionary() -> opencv::Result<Ptr<aruco::Dictionary>> {
        aruco::get_predefined_dictionary_i32(aruco::DICT_4X4_50)
    }
}

/// The page as SVG.
///
/// # Errors
/// Where OpenCV has no markers to give.
pub fn svg(board: &Board) -> Result<String, BoardError> {
    let [width_mm, height_mm] = board.page_mm;
    let [left_mm, top_mm] = board.corner_mm();
    let mut page = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width_mm}mm\" height=\"{height_mm}mm\" viewBox=\"0 0 {width_mm} {height_mm}\">\n<title>{}</title>\n<rect width=\"{width_mm}\" height=\"{height_mm}\" fill=\"#fff\"/>\n",
        title(board)
    );
    let mut black = String::new();
    for [column, row] in board.squares(true) {
        let corner = [
            left_mm + f64::from(column) * board.square_mm,
            top_mm + f64::from(row) * board.square_mm,
        ];
        rectangle(&mut black, corner, [board.square_mm; 2]);
    }
    page.push_str(&filled(&black, "#000"));
    if board.kind == BoardKind::Charuco {
        page.push_str(&markers(board)?);
    }
    page.push_str(&bars(board));
    page.push_str("</svg>\n");
    Ok(page)
}

fn title(board: &Board) -> String {
    let (columns, rows, square_mm) = (board.columns, board.rows, board.square_mm);
    match board.kind {
        BoardKind::Chessboard => {
            format!("Chessboard for lens calibration: {columns} × {rows} squares of {square_mm} mm")
        }
        BoardKind::Charuco => format!(
            "ChArUco board for lens calibration: {columns} × {rows} squares of {square_mm} mm, markers of {} mm",
            board.marker_mm
        ),
    }
}

/// The markers: black fields, and on them the cells that are white.
fn markers(board: &Board) -> Result<String, BoardError> {
    let dictionary = Board::dictionary()?;
    let [left_mm, top_mm] = board.corner_mm();
    let cell_mm = board.marker_mm / f64::from(MARKER_CELLS);
    let edge_mm = (board.square_mm - board.marker_mm) / 2.0;
    let (mut black, mut white) = (String::new(), String::new());
    for (id, [column, row]) in (0..).zip(board.squares(false)) {
        let corner = [
            left_mm + f64::from(column) * board.square_mm + edge_mm,
            top_mm + f64::from(row) * board.square_mm + edge_mm,
        ];
        rectangle(&mut black, corner, [board.marker_mm; 2]);
        let mut cells = Mat::default();
        aruco::draw_marker_def(&dictionary, id, MARKER_CELLS, &mut cells)?;
        for y in 0..MARKER_CELLS {
            for x in 0..MARKER_CELLS {
                if *cells.at_2d::<u8>(y, x)? > 127 {
                    let (x_mm, y_mm) = (f64::from(x) * cell_mm, f64::from(y) * cell_mm);
                    rectangle(&mut white, [corner[0] + x_mm, corner[1] + y_mm], [cell_mm; 2]);
                }
            }
        }
    }
    Ok(filled(&black, "#000") + &filled(&white, "#fff"))
}

/// The bars that show whether the print is true, and what to do with it.
fn bars(board: &Board) -> String {
    let [_, height_mm] = board.page_mm;
    let [left_mm, top_mm] = board.corner_mm();
    let below_mm = top_mm + f64::from(board.rows) * board.square_mm;
    let along_mm = f64::midpoint(below_mm, height_mm) - 2.0;
    let mut ink = String::new();
    let thin_mm = 0.3;
    rectangle(&mut ink, [left_mm, along_mm], [100.0, thin_mm]);
    let beside_mm = left_mm / 2.0;
    rectangle(&mut ink, [beside_mm, top_mm], [thin_mm, 100.0]);
    for step in 0..=10 {
        let long_mm = if step % 10 == 0 { 4.0 } else { 2.0 };
        let at_mm = f64::from(step) * 10.0 - thin_mm / 2.0;
        rectangle(&mut ink, [left_mm + at_mm, along_mm - long_mm], [thin_mm, long_mm]);
        rectangle(&mut ink, [beside_mm - long_mm, top_mm + at_mm], [long_mm, thin_mm]);
    }
    format!(
        "{}<g font-family=\"sans-serif\" font-size=\"3.2\" fill=\"#000\">\n<text x=\"{:.2}\" y=\"{along_mm:.2}\">{}</text>\n<text x=\"{left_mm:.2}\" y=\"{:.2}\">Both bars are 100 mm long. Print at 100 %, glue flat on a stiff plate, keep the white border clear.</text>\n</g>\n",
        filled(&ink, "#000"),
        left_mm + 106.0,
        title(board),
        along_mm + 6.0,
    )
}

/// Adds a rectangle to path data.
fn rectangle(data: &mut String, [x, y]: [f64; 2], [width, height]: [f64; 2]) {
    // Writing to a string cannot fail.
    let _ = write!(data, "M{x:.4} {y:.4}h{width:.4}v{height:.4}h-{width:.4}z");
}

fn filled(data: &str, colour: &str) -> String {
    format!("<path d=\"{data}\" fill=\"{colour}\" shape-rendering=\"crispEdges\"/>\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use opencv::prelude::*;
    use resvg::{tiny_skia, usvg};
    use std::path::Path;

    const ALL: [(BoardKind, Paper, &str); 4] = [
        (BoardKind::Chessboard, Paper::A4, "chessboard-a4.svg"),
        (BoardKind::Chessboard, Paper::A3, "chessboard-a3.svg"),
        (BoardKind::Charuco, Paper::A4, "charuco-a4.svg"),
        (BoardKind::Charuco, Paper::A3, "charuco-a3.svg"),
    ];

    /// A page rasterised to grey at whole pixels to the millimetre.
    fn raster(board: &Board, px_per_mm: u32) -> (u32, Vec<u8>) {
        let [width_mm, height_mm] = board.page_mm();
        let options = usvg::Options { dpi: 25.4, ..usvg::Options::default() };
        let tree = usvg::Tree::from_str(&svg(board).unwrap(), &options).unwrap();
        assert!((f64::from(tree.size().width()) - width_mm).abs() < 1e-3, "the page's width");
        assert!((f64::from(tree.size().height()) - height_mm).abs() < 1e-3, "the page's height");
        let width_px = width_mm as u32 * px_per_mm;
        let mut page = tiny_skia::Pixmap::new(width_px, height_mm as u32 * px_per_mm).unwrap();
        let scale = tiny_skia::Transform::from_scale(px_per_mm as f32, px_per_mm as f32);
        resvg::render(&tree, scale, &mut page.as_mut());
        (width_px, page.data().chunks_exact(4).map(|pixel| pixel[0]).collect())
    }

    #[test]
    fn charuco_is_the_board_that_opencv_means() {
        let board = Board::on(BoardKind::Charuco, Paper::A4);
        // The middles of a marker's cells tell; where exactly edges fall, the other test does.
        let mut theirs = Mat::default();
        let size = opencv::core::Size::new(10 * 250, 7 * 250);
        board.charuco().unwrap().draw(size, &mut theirs, 0, 1).unwrap();
        let (width_px, ours) = raster(&board, 4);
        let [left_mm, top_mm] = board.corner_mm();
        let mut compared = 0;
        for row in 0..7 {
            for column in 0..10 {
                for cell in 0..36 {
                    let cell_mm = board.marker_mm / 6.0;
                    let edge_mm = (board.square_mm - board.marker_mm) / 2.0 + cell_mm / 2.0;
                    let x_mm = f64::from(column) * board.square_mm
                        + edge_mm
                        + f64::from(cell % 6) * cell_mm;
                    let y_mm =
                        f64::from(row) * board.square_mm + edge_mm + f64::from(cell / 6) * cell_mm;
                    let x = ((left_mm + x_mm) * 4.0) as usize;
                    let y = ((top_mm + y_mm) * 4.0) as usize;
                    let our = ours[y * width_px as usize + x];
                    let their =
                        *theirs.at_2d::<u8>((y_mm * 10.0) as i32, (x_mm * 10.0) as i32).unwrap();
                    assert_eq!(our > 127, their > 127, "square {column}, {row}, cell {cell}");
                    compared += 1;
                }
            }
        }
        assert_eq!(compared, 70 * 36);
    }

    #[test]
    fn squares_and_bars_measure_what_they_say() {
        let board = Board::on(BoardKind::Chessboard, Paper::A3);
        let (width_px, page) = raster(&board, 4);
        let dark = |x_mm: f64, y_mm: f64| {
            page[(y_mm * 4.0) as usize * width_px as usize + (x_mm * 4.0) as usize] < 128
        };
        let [left_mm, top_mm] = board.corner_mm();
        assert!(dark(left_mm + 1.0, top_mm + 1.0) && !dark(left_mm - 1.0, top_mm + 1.0));
        // Edges along the middle of the second row of squares.
        let y_mm = top_mm + 1.5 * board.square_mm;
        let steps = (0..=3600).map(|i| left_mm + f64::from(i) * 0.1 + 0.05);
        let dark_along: Vec<bool> = steps.map(|x_mm| dark(x_mm, y_mm)).collect();
        let edges: Vec<usize> =
            (1..dark_along.len()).filter(|i| dark_along[*i] != dark_along[i - 1]).collect();
        // Nine between the squares, and the end of the last, which is black in this row.
        assert_eq!(edges.len(), 10);
        for (i, edge) in edges.iter().enumerate() {
            let wanted = 360.0 * (i as f64 + 1.0);
            assert!((*edge as f64 - wanted).abs() <= 4.0, "edge {i} at {edge} tenths");
        }
        // The upright bar: its ends are ticks ten centimetres apart.
        let beside_mm = left_mm / 2.0 - 3.0;
        let ticks: Vec<f64> = (0..12_000)
            .map(|i| f64::from(i) * 0.01 + top_mm - 5.0)
            .filter(|y_mm| dark(beside_mm, *y_mm))
            .collect();
        let (first, last) = (ticks[0], ticks[ticks.len() - 1]);
        assert!((last - first - 100.0).abs() < 0.6, "{first} to {last} mm");
    }

    #[test]
    fn the_stored_boards_are_what_the_code_makes() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("calibration");
        for (kind, paper, name) in ALL {
            let page = svg(&Board::on(kind, paper)).unwrap();
            let stored = std::fs::read_to_string(folder.join(name)).unwrap();
            assert!(
                stored == page,
                "calibration/{name} differs: make it again with `stillcloth board --kind … --paper … --out calibration/{name}`"
            );
        }
    }

    #[test]
    fn names_are_read_and_others_refused() {
        assert_eq!("ChArUco".parse::<BoardKind>().unwrap(), BoardKind::Charuco);
        assert_eq!("A3".parse::<Paper>().unwrap(), Paper::A3);
        assert!("letter".parse::<Paper>().unwrap_err().to_string().contains("letter"));
        assert!("dots".parse::<BoardKind>().unwrap_err().to_string().contains("dots"));
    }
}
