//! Text that any reader can show: short, on one line, without invisible characters.

use std::borrow::Cow;

/// The most bytes of the one line of an answer.
pub const LINE_BYTES: usize = 400;

/// The most names of one sentence.
const MOST_NAMED: usize = 3;

/// "a, b and 2 more".
#[must_use]
pub fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [first, last] => format!("{first} and {last}"),
        many if many.len() <= MOST_NAMED => {
            format!("{} and {}", many[..many.len() - 1].join(", "), many[many.len() - 1])
        }
        many => format!("{} and {} more", many[..MOST_NAMED - 1].join(", "), many.len() - (MOST_NAMED - 1)),
    }
}

/// `text` on one line of at most `most` bytes of UTF-8, cut between characters with "…". Control and format characters,
/// among them those that turn the direction of writing, and line breaks become spaces.
#[must_use]
pub fn one_line(text: &str, most: usize) -> String {
    const CUT: &str = "…";
    if is_plain(text, most) {
        return text.to_owned();
    }
    let mut line = String::with_capacity(text.len().min(most));
    // Where to cut if the text turns out too long.
    let mut fits = 0;
    for c in text.chars().map(|c| if is_invisible(c) { ' ' } else { c }) {
        if line.len() + c.len_utf8() > most {
            line.truncate(fits);
            if most >= CUT.len() {
                line.push_str(CUT);
            }
            return line;
        }
        line.push(c);
        if line.len() + CUT.len() <= most {
            fits = line.len();
        }
    }
    line
}

/// As [`one_line`], of a text of one's own.
#[must_use]
pub fn made_one_line(text: String, most: usize) -> String {
    if is_plain(&text, most) { text } else { one_line(&text, most) }
}

/// Characters of the Unicode categories Cc, Cf, Zl and Zp, which do not show or which move what follows. The table is that
/// of Unicode 16.0, `DerivedGeneralCategory.txt`.
#[must_use]
pub fn is_invisible(c: char) -> bool {
    // Most characters are ASCII.
    if c.is_ascii() {
        return c.is_ascii_control();
    }
    c.is_control()
        || matches!(u32::from(c),
            0xAD | 0x600..=0x605 | 0x61C | 0x6DD | 0x70F | 0x890..=0x891 | 0x8E2 | 0x180E
            | 0x200B..=0x200F | 0x2028..=0x202E | 0x2060..=0x2064 | 0x2066..=0x206F | 0xFEFF | 0xFFF9..=0xFFFB
            | 0x110BD | 0x110CD | 0x13430..=0x1343F | 0x1BCA0..=0x1BCA3 | 0x1D173..=0x1D17A
            | 0xE0001 | 0xE0020..=0xE007F)
}

/// A name between quotation marks, short enough to leave room for what is said of it.
#[must_use]
pub fn quoted(name: &str) -> String {
    format!("\"{}\"", short(name))
}

/// A name, short enough to leave room for what is said of it.
#[must_use]
pub fn short(name: &str) -> Cow<'_, str> {
    const NAME_BYTES: usize = 48;
    if is_plain(name, NAME_BYTES) { Cow::Borrowed(name) } else { Cow::Owned(one_line(name, NAME_BYTES)) }
}

/// Most text is short and shows.
fn is_plain(text: &str, most: usize) -> bool {
    // All of it is looked at, which is quicker than looking for the first.
    if text.len() > most || text.bytes().fold(false, |found, byte| found | byte.is_ascii_control()) {
        return false;
    }
    if !text.bytes().fold(false, |found, byte| found | begins_some_invisible(byte)) {
        return true;
    }
    text.chars().all(|c| !is_invisible(c))
}

/// Whether a character of several bytes that does not show may begin with this byte. × and ÷ do not.
const fn begins_some_invisible(byte: u8) -> bool {
    matches!(byte, 0xC2 | 0xD8 | 0xDB | 0xDC | 0xE0..=0xE2 | 0xEF | 0xF0 | 0xF3)
}

#[cfg(test)]
mod tests {
    use super::{begins_some_invisible, is_invisible, is_plain, one_line};

    #[test]
    fn what_does_not_show_is_found_by_its_first_byte() {
        for c in '\0'..=char::MAX {
            let text = c.to_string();
            assert_eq!(is_plain(&text, 4), !is_invisible(c), "{c:?}");
            assert!(c.is_ascii() || !is_invisible(c) || begins_some_invisible(text.as_bytes()[0]), "{c:?}");
        }
    }

    #[test]
    fn cuts_between_characters_and_never_past_the_limit() {
        assert_eq!(one_line("plain", 5), "plain");
        assert_eq!(one_line("plainly", 5), "pl…");
        assert_eq!(one_line("ααααα", 7), "αα…");
        assert_eq!(one_line("ab", 1), "");
        assert_eq!(one_line("a\nb\u{202e}c\u{2029}d", 400), "a b c d");
    }

    #[test]
    fn letters_and_marks_are_visible() {
        for c in ['a', 'é', 'न', '\u{301}', '👩', '·', '−'] {
            assert!(!is_invisible(c), "{c:?}");
        }
        for c in ['\0', '\u{7f}', '\u{85}', '\u{ad}', '\u{200d}', '\u{2028}', '\u{feff}', '\u{e0041}'] {
            assert!(is_invisible(c), "{c:?}");
        }
    }
}
