//! JSON pointers (RFC 6901).

/// The pointer to the place that these names lead to, each escaped: `["units", "a/b"]` is `/units/a~1b`.
#[must_use]
pub fn pointer(names: &[&str]) -> String {
    let mut text = String::with_capacity(names.iter().map(|name| name.len() + 1).sum());
    for name in names {
        push(&mut text, name);
    }
    text
}

/// Adds one step to a pointer.
pub(super) fn push(pointer: &mut String, name: &str) {
    pointer.push('/');
    for c in name.chars() {
        match c {
            '~' => pointer.push_str("~0"),
            '/' => pointer.push_str("~1"),
            _ => pointer.push(c),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::pointer;

    #[test]
    fn names_are_escaped_and_the_whole_document_is_empty() {
        assert_eq!(pointer(&[]), "");
        assert_eq!(pointer(&["units", "burner", "count"]), "/units/burner/count");
        assert_eq!(pointer(&["units", "a/b~c", ""]), "/units/a~1b~0c/");
    }
}
