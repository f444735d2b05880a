//! Pictures in pixels (PNG), drawn from the SVG of an answer: for chat previews and cards of links, which show no SVG.
//!
//! The only file that names the drawing crate. The font is built in, so that the same picture gives the same bytes everywhere; what
//! it has no letter for stays blank.

use std::sync::{Arc, LazyLock};

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{self, Tree};

use crate::http::problem::Problem;

/// The longest side of a picture.
const MOST_SIDE: f32 = 2048.0;
/// The most pixels of a picture: 4 bytes each while it is drawn.
const MOST_PIXELS: f32 = 3_000_000.0;

/// Liberation Sans, whose letters are as wide as those the pictures are laid out for.
const FONTS: [&[u8]; 2] = [
    include_bytes!("../../assets/fonts/LiberationSans-Regular.ttf"),
    include_bytes!("../../assets/fonts/LiberationSans-Bold.ttf"),
];

static OPTIONS: LazyLock<usvg::Options<'static>> = LazyLock::new(|| {
    let mut fonts = usvg::fontdb::Database::new();
    for font in FONTS {
        fonts.load_font_data(font.to_vec());
    }
    fonts.set_sans_serif_family("Liberation Sans");
    usvg::Options { font_family: "Liberation Sans".to_owned(), fontdb: Arc::new(fonts), ..usvg::Options::default() }
});

/// An SVG document as PNG, in its own size or smaller where that is beyond the limits.
///
/// # Errors
/// 500 when it cannot be drawn: no picture of this service is such.
pub fn png(svg: &[u8]) -> Result<Vec<u8>, Problem> {
    drawn(svg).map_err(|why| Problem::internal(format!("the picture cannot be drawn: {why}")))
}

fn drawn(svg: &[u8]) -> Result<Vec<u8>, String> {
    let tree = Tree::from_data(svg, &OPTIONS).map_err(|error| error.to_string())?;
    let (width, height) = (tree.size().width(), tree.size().height());
    let scale = (MOST_SIDE / width.max(height)).min((MOST_PIXELS / (width * height)).sqrt()).min(1.0);
    let size = tree.size().to_int_size().scale_by(scale).ok_or("it has no size")?;
    let mut pixels = Pixmap::new(size.width(), size.height()).ok_or("it has no size")?;
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut pixels.as_mut());
    pixels.encode_png().map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sides(png: &[u8]) -> (u32, u32) {
        let side = |at: usize| u32::from_be_bytes(png[at..at + 4].try_into().expect("four bytes"));
        (side(16), side(20))
    }

    fn sheet(width: u32, height: u32, inner: &str) -> Vec<u8> {
        let svg = format!(r#"<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}">{inner}</svg>"#);
        png(svg.as_bytes()).expect("a picture")
    }

    #[test]
    fn a_picture_keeps_its_size_within_the_limits() {
        assert_eq!(sides(&sheet(800, 600, "")), (800, 600));
        let (width, height) = sides(&sheet(100_000, 50, ""));
        assert!(width <= 2048 && height >= 1, "{width} × {height}");
        let (width, height) = sides(&sheet(50_000, 50_000, ""));
        assert!(width * height <= 3_010_000, "{width} × {height}");
        assert!(png(b"<svg").is_err());
        assert!(png(b"").is_err());
    }

    #[test]
    fn text_is_drawn_with_the_font_that_is_built_in() {
        let text = |text: &str| {
            let family = "font-family=\"Arial, Helvetica, 'DejaVu Sans', sans-serif\"";
            sheet(200, 40, &format!(r##"<text x="5" y="30" font-size="20" fill="#fff" {family}>{text}</text>"##))
        };
        let blank = text("");
        for letters in ["Holds", "÷ × − · °C m³", "Über"] {
            assert_ne!(text(letters), blank, "{letters}");
            assert_eq!(text(letters), text(letters));
        }
    }

    #[test]
    fn nothing_is_loaded_from_elsewhere() {
        let outside = r#"<image href="/etc/hostname" width="9" height="9"/><image href="http://localhost/x.png" width="9" height="9"/>"#;
        assert_eq!(sheet(20, 20, outside), sheet(20, 20, ""));
    }
}
