//! What a command has to say, as text and as JSON, and how it is printed.

use std::io::{self, Write};

use super::exit::{Exit, Failure};

/// What a command says, and how it ended.
#[derive(Debug)]
pub(crate) struct Said {
    pub(crate) text: String,
    pub(crate) json: serde_json::Value,
    pub(crate) exit: Exit,
}

impl Said {
    /// Says this, all done.
    pub(crate) fn done(text: String, json: &impl serde::Serialize) -> Result<Said, Failure> {
        Said::ended(text, json, Exit::Done)
    }

    /// Says this, ended so.
    pub(crate) fn ended(
        text: String,
        json: &impl serde::Serialize,
        exit: Exit,
    ) -> Result<Said, Failure> {
        let json = serde_json::to_value(json)
            .map_err(|error| Failure::Files(format!("can't be written as JSON: {error}")))?;
        Ok(Said { text, json, exit })
    }

    /// Prints it. That nobody reads to the end, as with `| head`, is no error.
    pub(crate) fn print(self, json: bool) -> Result<Exit, Failure> {
        let text = if json { format!("{:#}\n", self.json) } else { self.text };
        print(&text)?;
        Ok(self.exit)
    }
}

/// Prints text at once.
pub(crate) fn print(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::Files(format!("can't write the output: {error}")))
        }
        _ => Ok(()),
    }
}
