//! What may be said in a channel: one line, clean and short.
//!
//! An answer may quote what a user typed. So nothing in it may start a second line, colour or reorder what follows, hide
//! itself, stack marks over other lines, or be taken for a command by another bot.

use unicode_general_category::{GeneralCategory, get_general_category};

/// The longest line said, in bytes.
pub const LINE_BYTES: usize = 400;

/// The longest message of the protocol, its end of line included (RFC 2812, section 2.3).
const MESSAGE_BYTES: usize = 512;

/// What a server may put around nick, channel and text when it passes a line on: `:`, a digit behind a nick that was taken, `!`, a
/// user of 10 bytes, `@`, a host of 63, ` PRIVMSG `, ` :` and the end of the line (RFC 2812, section 2.3.1).
const AROUND_BYTES: usize = 1 + 1 + 1 + 10 + 1 + 63 + 9 + 2 + 2;

/// What stands for what was cut off.
const MORE: char = '…';

/// Marks over one letter, at most: two are written in earnest, more to scrawl over the lines above.
const MARKS: usize = 2;

/// What commands of bots and of chat programs begin with.
const COMMAND_MARKS: &str = "!/\\.,@#$%&*?+-~^|;:<>=`_";

/// How many bytes of text fit, so that a server that passes a line on need not cut it.
#[must_use]
pub fn room(nick: &str, channel: &str) -> usize {
    MESSAGE_BYTES.saturating_sub(AROUND_BYTES + nick.len() + channel.len()).min(LINE_BYTES)
}

/// A text as one clean line of at most `bytes` bytes. It may come out empty.
#[must_use]
pub fn speak(text: &str, bytes: usize) -> String {
    let mut line = clean(text);
    cut(&mut line, bytes);
    // Where little room is left, a cut may take the digit that made a sign a number.
    without_command(&line).to_owned()
}

/// A text without what could harm a channel, its spaces single, and nothing at its front that a command begins with.
#[must_use]
pub fn clean(text: &str) -> String {
    without_command(&plain(text)).to_owned()
}

/// A text without what could harm a channel, its spaces single. What it begins with stays.
#[must_use]
pub fn plain(text: &str) -> String {
    let mut line = String::with_capacity(text.len());
    let mut rest = text.chars().peekable();
    let mut marks = 0;
    while let Some(next) = rest.next() {
        match next {
            '\u{3}' => skip_colours(&mut rest, 2, |next| next.is_ascii_digit()),
            '\u{4}' => skip_colours(&mut rest, 6, |next| next.is_ascii_hexdigit()),
            '\t' | '\n' | '\r' | '\u{b}' | '\u{c}' | '\u{85}' => space(&mut line),
            _ => match get_general_category(next) {
                GeneralCategory::SpaceSeparator
                | GeneralCategory::LineSeparator
                | GeneralCategory::ParagraphSeparator => space(&mut line),
                GeneralCategory::Control
                | GeneralCategory::Format
                | GeneralCategory::PrivateUse
                | GeneralCategory::Surrogate
                | GeneralCategory::Unassigned => {}
                GeneralCategory::NonspacingMark | GeneralCategory::EnclosingMark => {
                    marks += 1;
                    if marks <= MARKS {
                        line.push(next);
                    }
                }
                _ => {
                    marks = 0;
                    line.push(next);
                }
            },
        }
    }
    line.truncate(line.trim_end().len());
    line
}

/// A single space, and none at the front.
fn space(line: &mut String) {
    if !line.is_empty() && !line.ends_with(' ') {
        line.push(' ');
    }
}

/// Passes over the colours that follow a colour code: one or two numbers with a comma between.
fn skip_colours(rest: &mut std::iter::Peekable<std::str::Chars<'_>>, digits: usize, is_digit: fn(char) -> bool) {
    let number = |rest: &mut std::iter::Peekable<std::str::Chars<'_>>| {
        (0..digits).take_while(|_| rest.next_if(|&next| is_digit(next)).is_some()).count()
    };
    if number(rest) == 0 {
        return;
    }
    // The second colour is a colour only where a digit follows the comma; a comma by itself is text.
    let mut ahead = rest.clone();
    if ahead.next() == Some(',') && ahead.next().is_some_and(is_digit) {
        rest.next();
        number(rest);
    }
}

/// The line from where it cannot be taken for a command. A sign or a point before a digit stays: it is a number.
fn without_command(line: &str) -> &str {
    let mut line = line.trim();
    while let Some(first) = line.chars().next() {
        let after = &line[first.len_utf8()..];
        let number = matches!(first, '-' | '+' | '.') && after.starts_with(|next: char| next.is_ascii_digit());
        if !COMMAND_MARKS.contains(first) || number {
            break;
        }
        line = after.trim_start();
    }
    line
}

/// Cuts a line at the edge of a character, with a mark that there was more.
fn cut(line: &mut String, bytes: usize) {
    if line.len() <= bytes {
        return;
    }
    let mut end = bytes.saturating_sub(MORE.len_utf8());
    while !line.is_char_boundary(end) {
        end -= 1;
    }
    line.truncate(end);
    line.truncate(line.trim_end().len());
    if line.len() + MORE.len_utf8() <= bytes {
        line.push(MORE);
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn what_harms_is_gone_and_the_rest_stays() {
        for (text, expected) in [
            ("9 units: 2.5 kg/s ÷ 300 g/s = 8.33.", "9 units: 2.5 kg/s ÷ 300 g/s = 8.33."),
            ("a\r\nQUIT :bye", "a QUIT :bye"),
            ("a\r\n\r\n\tb\u{85}c\u{2028}d", "a b c d"),
            ("\u{2}bold\u{f} \u{1d}it\u{1f}\u{1e}\u{11}\u{16}", "bold it"),
            ("\u{3}4,12red\u{3} \u{3}04x \u{3},5 \u{3}123", "red x ,5 3"),
            ("x\u{3}1,a", "x,a"),
            ("\u{3}05,2kg", "kg"),
            ("\u{4}ff00aared", "red"),
            ("\u{1}ACTION waves\u{1}", "ACTION waves"),
            ("a\u{202e}b\u{2066}c\u{200f}d\u{61c}e", "abcde"),
            ("a\u{200b}b\u{feff}c\u{ad}d\u{e0041}e\u{e000}", "abcde"),
            ("!sum evil", "sum evil"),
            (" !! /quit", "quit"),
            ("\u{200b}!sum", "sum"),
            ("\u{2}\u{3}4!sum", "sum"),
            ("@everyone", "everyone"),
            ("-3 °C", "-3 °C"),
            (".5 kg", ".5 kg"),
            ("...5 kg", ".5 kg"),
            ("-- help", "help"),
            ("z\u{300}\u{301}\u{302}\u{303}y", "z\u{300}\u{301}y"),
            ("\u{a0}a\u{3000}b ", "a b"),
            ("\0\u{7f}\u{9b}", ""),
            ("!!!", ""),
        ] {
            assert_eq!(clean(text), expected, "{text:?}");
        }
    }

    #[test]
    fn a_line_is_cut_at_the_edge_of_a_character() {
        assert_eq!(speak("é é é", 8), "é é é");
        assert_eq!(speak("éééé", 8), "éééé");
        assert_eq!(speak("ééééé", 8), "éé…");
        assert_eq!(speak("ab cdefgh", 6), "ab…");
        assert_eq!(speak("abc", 2), "");
        assert_eq!(speak(&"x".repeat(1000), LINE_BYTES).len(), LINE_BYTES);
    }

    #[test]
    fn a_long_channel_leaves_less_room() {
        assert_eq!(room("hotwell", "#kestrel"), LINE_BYTES);
        let (nick, channel) = ("n".repeat(30), format!("#{}", "c".repeat(49)));
        assert_eq!(room(&nick, &channel) + AROUND_BYTES + 80, MESSAGE_BYTES);
        assert_eq!(room("n", &"c".repeat(600)), 0);
    }

    /// Texts of the worst that can be typed, mixed with what is said in earnest.
    fn hostile() -> impl Strategy<Value = String> {
        let part = prop_oneof![
            any::<String>(),
            "[\u{0}-\u{9f}]{0,8}",
            "\u{3}[0-9]{0,3},?[0-9]{0,3}",
            "[!/.@\\\\~ ]{0,4}",
            "[\u{200b}-\u{200f}\u{202a}-\u{202e}\u{2060}-\u{206f}\u{300}-\u{36f}]{0,6}",
            "[0-9]{1,3} (kg|°C|µm|\u{1f525})",
        ];
        prop::collection::vec(part, 0..12).prop_map(|parts| parts.concat())
    }

    proptest! {
        #[test]
        fn whatever_is_said_is_one_clean_short_line(text in hostile(), bytes in 0_usize..=LINE_BYTES) {
            let line = speak(&text, bytes);
            prop_assert!(line.len() <= bytes);
            prop_assert_eq!(line.trim(), &line);
            let first = line.chars().next();
            let digit = line.chars().nth(1).is_some_and(|next| next.is_ascii_digit());
            prop_assert!(!first.is_some_and(|first| COMMAND_MARKS.contains(first)) || digit, "{:?}", line);
            for character in line.chars() {
                prop_assert!(!character.is_control(), "{:?}", line);
                let category = get_general_category(character);
                prop_assert!(category != GeneralCategory::Format && category != GeneralCategory::LineSeparator);
            }
        }

        #[test]
        fn what_is_clean_stays_as_it_is(text in hostile()) {
            let line = clean(&text);
            prop_assert_eq!(clean(&line), line);
        }
    }
}
