//! What comes with the program for the system it is installed on.

use std::process::{Command, Stdio};

use crate::support::{package, run};

#[test]
fn every_shell_gets_completions_that_name_every_command() {
    let list = run(["manual", "--list"]).expect(0);
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = run(["completions", shell]).expect(0);
        for command in list.out().lines() {
            assert!(script.out().contains(command), "{shell}: {command}");
        }
    }
    run(["completions", "basch"]).expect(2).complains("bash");
}

/// The shell itself reads the script; bash is the one that nearly every machine has.
#[test]
fn bash_completes_commands_and_options() {
    let script = run(["completions", "bash"]).expect(0);
    let ask = format!(
        "{}\nCOMP_WORDS=(readproof ve); COMP_CWORD=1; _readproof readproof ve readproof; echo \"${{COMPREPLY[*]}}\"\n\
         COMP_WORDS=(readproof vet --exp); COMP_CWORD=2; _readproof readproof --exp vet; echo \"${{COMPREPLY[*]}}\"\n",
        script.out()
    );
    let Ok(told) = Command::new("bash").args(["--norc", "-c", &ask]).stderr(Stdio::null()).output() else {
        println!("skipped: there is no bash here");
        return;
    };
    let told = String::from_utf8_lossy(&told.stdout).into_owned();
    let answers: Vec<&str> = told.lines().collect();
    assert_eq!(answers, ["vet", "--expect"], "{told}");
}

#[test]
fn every_command_has_a_manual_page_with_its_options() {
    let list = run(["manual", "--list"]).expect(0);
    assert!(list.out().lines().count() >= 14, "{list}");
    run(["manual"]).expect(0).says(".TH readproof 1").says("Exit status");
    for command in list.out().lines() {
        let page = run(["manual", command]).expect(0);
        assert!(page.out().contains(&format!(".TH readproof-{command} 1")), "{page}");
        assert!(page.out().contains("\\-\\-json"), "{page}");
    }
    run(["manual", "vett"]).expect(2).complains("Did you mean vet?");
}

#[test]
fn the_package_names_what_is_packed() {
    let script = std::fs::read_to_string(package().join(".ci/deb")).unwrap();
    for packed in [
        "completions",
        "manual",
        "layouts",
        "samples",
        "README.md",
        "LICENSE",
        "docs/pictures",
        "changelog",
        "readproof.schema.json",
    ] {
        assert!(script.contains(packed), "{packed}");
    }
}
