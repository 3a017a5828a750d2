//! All problems of one file.

use std::fmt;

use super::Problem;

/// Why a file is no rig or no scenario: everything that is wrong with it, in the order of the file.
///
/// Its message is one line per problem, each with file, line and column.
#[derive(Clone, Debug)]
pub struct InputErrors {
    problems: Vec<Problem>,
    omitted: usize,
}

impl InputErrors {
    pub(super) const fn new(problems: Vec<Problem>, omitted: usize) -> Self {
        Self { problems, omitted }
    }

    /// The problems. There is at least one.
    #[must_use]
    pub fn problems(&self) -> &[Problem] {
        &self.problems
    }

    /// How many more there are beside [`Self::problems`].
    #[must_use]
    pub const fn omitted(&self) -> usize {
        self.omitted
    }
}

impl From<Problem> for InputErrors {
    fn from(problem: Problem) -> Self {
        Self { problems: vec![problem], omitted: 0 }
    }
}

impl fmt::Display for InputErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.problems.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            write!(f, "{problem}")?;
        }
        match self.omitted {
            0 => Ok(()),
            omitted => write!(f, "\nand {omitted} more"),
        }
    }
}

impl std::error::Error for InputErrors {}
