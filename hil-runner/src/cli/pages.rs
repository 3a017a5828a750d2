//! The pages of the guide, built into the program so that it can be used without the source.

/// A page of the guide.
#[derive(Clone, Copy, Debug)]
pub(super) struct Page {
    /// The word after `help`.
    pub(super) name: &'static str,
    /// What it is about.
    pub(super) about: &'static str,
    /// Its text, in Markdown.
    pub(super) text: &'static str,
}

macro_rules! page {
    ($name:literal, $about:literal) => {
        Page { name: $name, about: $about, text: include_str!(concat!("../../guide/", $name, ".md")) }
    };
}

/// Every page, in the order in which a newcomer needs them.
pub(super) const PAGES: [Page; 15] = [
    page!("rig", "rig files and their keys"),
    page!("scenario", "scenario files and their keys"),
    page!("plan", "plan files and their keys"),
    page!("codes", "exit codes"),
    page!("trust", "what makes a number trusted"),
    page!("emulated", "the real firmware on an emulated chip"),
    page!("board", "a real board: wiring, supply, commands"),
    page!("serial", "a serial adapter, or the board's own UART"),
    page!("capture", "a capture file, decoded and judged"),
    page!("resolution", "which resolution is worth its time"),
    page!("line", "is the line healthy, and which pull-up fits"),
    page!("labels", "which sensor is which"),
    page!("fixed-points", "ice point and steam point"),
    page!("nights", "plans, histories, reports of every night"),
    page!("figures", "what was measured, and how to repeat it"),
];

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::PAGES;

    #[test]
    fn every_file_of_the_guide_is_a_page() {
        let guide = concat!(env!("CARGO_MANIFEST_DIR"), "/guide");
        let files = std::fs::read_dir(guide).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
        let files: BTreeSet<String> = files.filter_map(|name| name.strip_suffix(".md").map(str::to_owned)).collect();
        assert_eq!(files, PAGES.iter().map(|page| page.name.to_owned()).collect());
    }

    #[test]
    fn links_between_pages_lead_somewhere() {
        for page in PAGES {
            for link in page.text.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
                let (file, heading) = link.split_once('#').unwrap_or((link, ""));
                let path = format!("{}/guide/{file}", env!("CARGO_MANIFEST_DIR"));
                let text = std::fs::read_to_string(&path).unwrap_or_else(|_| panic!("{}: {link}", page.name));
                let anchor = |line: &str| line.trim_start_matches('#').trim().to_lowercase().replace(' ', "-");
                let is_there =
                    heading.is_empty() || text.lines().any(|line| line.starts_with('#') && anchor(line) == heading);
                assert!(is_there, "{}: {link}", page.name);
            }
        }
    }
}
