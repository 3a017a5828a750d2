//! Files that the program carries with it, by name.

/// Names and texts. The first is the default.
#[derive(Clone, Copy, Debug)]
pub struct BuiltIn<const N: usize>(pub [(&'static str, &'static str); N]);

impl<const N: usize> BuiltIn<N> {
    /// All names, in order.
    #[must_use]
    pub const fn names(&self) -> [&'static str; N] {
        let mut names = [""; N];
        let mut index = 0;
        while index < N {
            names[index] = self.0[index].0;
            index += 1;
        }
        names
    }

    /// The text of this name.
    #[must_use]
    pub fn text(&self, name: &str) -> Option<&'static str> {
        self.0.iter().find(|(known, _)| *known == name).map(|(_, text)| *text)
    }
}

/// Where a built-in file comes from, as errors and records have it.
#[must_use]
pub fn source(name: &str) -> String {
    format!("<{name}>")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_is_found_by_its_whole_name_alone() {
        const FILES: BuiltIn<2> = BuiltIn([("cellar", "a"), ("cellar-2", "b")]);
        assert_eq!(FILES.names(), ["cellar", "cellar-2"]);
        assert_eq!((FILES.text("cellar-2"), FILES.text("cell"), FILES.text("")), (Some("b"), None, None));
        assert_eq!(source("cellar"), "<cellar>");
    }
}
