//! How wide letters are, and text cut and broken to a width.

/// About how wide a text is at a font size: an upper estimate for the fonts that are asked for.
#[must_use]
pub fn width(text: &str, size: f64) -> f64 {
    text.chars().map(em).sum::<f64>() * size
}

/// The width of a character in ems, a little more than in common sans-serif fonts. From memory, rounded up.
fn em(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | '\'' | '|' | '.' | ',' | ':' | ';' | '!' => 0.3,
        ' ' | 'f' | 't' | 'I' | '(' | ')' | '[' | ']' | '/' | '"' => 0.36,
        'r' | '-' => 0.4,
        'm' | 'w' | 'M' | 'W' | '%' | '@' | '—' | '…' => 0.95,
        'A'..='Z' | '+' | '×' | '÷' | '=' | '−' => 0.72,
        'a'..='z' | '0'..='9' => 0.59,
        '\u{300}'..='\u{36f}' => 0.0,
        c if u32::from(c) < 0x250 => 0.65,
        c if u32::from(c) < 0x1100 => 0.75,
        _ => 1.05,
    }
}

/// The size at which plain letters take as much room as bold ones do: a line in the widest font that is asked for, `DejaVu Sans Bold`, is
/// 13 to 15 % wider than plain letters are taken to be, a word of narrow letters up to 18 %.
#[must_use]
pub fn bold(size: f64) -> f64 {
    size * 1.155
}

/// The text, cut with "…" where it would be wider than `most`.
#[must_use]
pub fn fit(text: &str, size: f64, most: f64) -> String {
    if width(text, size) <= most {
        return text.to_owned();
    }
    let room = most - em('…') * size;
    let mut used = 0.0;
    let kept: String = text
        .chars()
        .take_while(|&c| {
            used += em(c) * size;
            used <= room
        })
        .collect();
    format!("{}…", kept.trim_end())
}

/// As [`fit`], cut after a whole word where that leaves more than half of what there is room for.
#[must_use]
pub fn fit_words(text: &str, size: f64, most: f64) -> String {
    let cut = fit(text, size, most);
    let Some(kept) = cut.strip_suffix('…').filter(|_| cut != text) else { return cut };
    let inside = text[kept.len()..].chars().next().is_some_and(|next| next != ' ');
    let word = if inside { kept.rfind(' ').unwrap_or(0) } else { kept.len() };
    if width(&kept[..word], size) * 2.0 < most {
        return cut;
    }
    format!("{}…", kept[..word].trim_end_matches([' ', ',', ';', ':', '.', '(', '"']))
}

/// The text broken at spaces into at most `lines` lines no wider than `most`; the last is cut with "…", after a whole word. A number
/// stays with its unit of measure, and a sign of reckoning with what follows, where that leaves no line half empty.
#[must_use]
pub fn wrap(text: &str, size: f64, most: f64, lines: usize) -> Vec<String> {
    let mut broken: Vec<String> = Vec::new();
    let mut rest = text.trim();
    while !rest.is_empty() && broken.len() < lines {
        if broken.len() + 1 == lines {
            broken.push(fit_words(rest, size, most));
            break;
        }
        let (mut used, mut end) = (0.0, rest.len());
        let (mut any, mut good, mut before) = (None, None, ' ');
        for (at, c) in rest.char_indices() {
            used += em(c) * size;
            // A space at the end takes no room.
            if used > most && c != ' ' {
                end = good.or(any).unwrap_or(at.max(c.len_utf8()));
                break;
            }
            if c == ' ' {
                any = Some(at);
                if !before.is_ascii_digit() && !"×÷−+=".contains(before) {
                    good = any;
                } else if good.is_some_and(|good| width(&rest[..good], size) * 2.0 < most) {
                    good = None;
                }
            }
            before = c;
        }
        broken.push(rest[..end].trim_end().to_owned());
        rest = rest[end..].trim_start();
    }
    broken
}

#[cfg(test)]
mod tests {
    use super::{bold, fit, fit_words, width, wrap};

    #[test]
    fn text_is_cut_and_broken_to_a_width() {
        assert!(width("carbon dioxide", 10.0) < 90.0);
        assert_eq!(fit("carbon dioxide", 10.0, 40.0), "carbo…");
        let lines = wrap("one two three four five six", 10.0, 60.0, 2);
        assert_eq!(lines.len(), 2);
        assert!(lines.iter().all(|line| width(line, 10.0) <= 60.0), "{lines:?}");
        assert!(lines[1].ends_with('…'));
        assert_eq!(fit_words("carbon dioxide, oxygen, methanol", 10.0, 120.0), "carbon dioxide…");
        assert_eq!(fit_words("carbondioxide", 10.0, 40.0), fit("carbondioxide", 10.0, 40.0));
        assert_eq!(fit_words("a carbondioxide", 10.0, 40.0), fit("a carbondioxide", 10.0, 40.0));
        assert_eq!(fit_words("…", 10.0, 40.0), "…");
        assert_eq!(wrap("ééééééééééééé", 10.0, 20.0, 3).len(), 3);
        assert_eq!(wrap("draws 60 g/s of methanol", 10.0, 54.0, 9), ["draws", "60 g/s of", "methanol"]);
        for wide in [88.0, 100.0, 110.0, 120.0, 130.0, 140.0] {
            let lines = wrap("600 kW ÷ 100 kW = 6; together 90 kW", 10.0, wide, 9);
            assert!(
                !lines.iter().any(|line| line.ends_with(|c: char| c.is_ascii_digit() || "÷=".contains(c))),
                "{lines:?}"
            );
        }
        // A number that would leave half a line empty is not held back.
        assert_eq!(wrap("a 1 2 3 4 5 6 7 8", 10.0, 50.0, 9)[0], "a 1 2 3 4");
    }

    /// Advance widths summed from the `hmtx` tables of `DejaVu Sans` and `DejaVu Sans Bold` 2.37, which are wider than Arial and Helvetica.
    #[test]
    fn letters_are_reckoned_as_wide_as_those_of_the_widest_font_that_is_asked_for() {
        for (text, plain_em, bold_em) in [
            ("Kestrel Deep, an invented world: the seep", 21.11, 23.87),
            ("Average of an intermittent supply", 16.95, 19.21),
            ("burner hall", 5.46, 6.22),
            ("garden tank", 6.08, 6.87),
            ("14.25 kg/s of 16.41 kg/s", 12.10, 13.52),
            ("5.5 kW, 100 %", 7.29, 8.05),
        ] {
            let reckoned = width(text, bold(1.0));
            assert!((bold_em * 0.98..bold_em * 1.04).contains(&reckoned), "{text}: {reckoned} for {bold_em}");
            assert!((plain_em * 0.95..plain_em * 1.05).contains(&width(text, 1.0)), "{text}: {plain_em}");
        }
    }
}
