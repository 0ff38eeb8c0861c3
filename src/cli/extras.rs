//! `perchline extras`: completions, man pages, the plan's schema and the list of
//! what is linked.

use std::path::Path;

use clap::CommandFactory;
use clap_complete::Shell;

use perchline_plan as plan;
use perchline_propagation::METHODS;

use super::failure::Failure;
use super::session::claimed;
use super::{Cli, print, written};

/// What is linked into the program (CycloneDX), as `make supply` lists it.
const LINKED: &[u8] = include_bytes!("../../docs/linked.cdx.json");

pub(super) fn run(out: &Path) -> Result<(), Failure> {
    let (_claim, mut outbox) = claimed(out)?;
    let mut command = Cli::command();
    let name = command.get_name().to_owned();
    for shell in [Shell::Bash, Shell::Zsh, Shell::Fish] {
        let mut script = Vec::new();
        clap_complete::generate(shell, &mut command, &name, &mut script);
        outbox.put(&format!("{name}.{shell}"), &script).map_err(Failure::output)?;
    }
    command.build();
    let verbs = command.get_subcommands().filter(|c| c.get_name() != "help").cloned();
    for page in std::iter::once(command.clone()).chain(verbs) {
        let man = clap_mangen::Man::new(page);
        let mut text = Vec::new();
        man.render(&mut text).map_err(Failure::output)?;
        outbox.put(&man.get_filename(), &text).map_err(Failure::output)?;
    }
    let methods: Vec<&str> = METHODS.iter().map(|method| method.name()).collect();
    outbox.put("linked.cdx.json", LINKED).map_err(Failure::output)?;
    outbox.put_json("plan.schema.json", &plan::schema(&methods)).map_err(Failure::output)?;
    print(&written(&outbox.deliver().map_err(Failure::output)?))
}
