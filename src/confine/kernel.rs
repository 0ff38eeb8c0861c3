//! A box that the kernel keeps around the whole process: what it may read, where
//! it may write, and that it starts no program and opens no connection.
//!
//! On Linux alone, as far as the kernel has it: Landlock for files (5.13 and
//! newer) and a filter of system calls. Elsewhere nothing is kept by the kernel,
//! and the other promises of this folder stand by themselves.

use std::path::{Path, PathBuf};

/// What a process may still do with files.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Room {
    /// Files, and folders with all in them, that may be read.
    pub read: Vec<PathBuf>,
    /// Folders in which files may be made, changed and removed, and read too.
    pub write: Vec<PathBuf>,
    /// Folders in which empty folders may be removed.
    pub remove: Vec<PathBuf>,
}

/// What the kernel keeps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Kept {
    /// Whether files are out of reach but those of the [`Room`].
    pub files: bool,
    /// Whether no connection can be opened and no program started.
    pub calls: bool,
}

impl Room {
    /// Lets a file be read, with what lies beside it.
    pub fn beside(&mut self, file: &Path) {
        let file = std::path::absolute(file).unwrap_or_else(|_| file.to_owned());
        self.read.extend(file.parent().map(Path::to_owned));
        self.read.push(file);
    }
}

/// Shuts the process in: this thread, and all that it starts from now on. Calls
/// are refused to all its threads.
///
/// What the kernel does not have is left out, and told.
#[must_use]
pub fn enter(room: &Room) -> Kept {
    imp::enter(room)
}

/// What the kernel of this machine could keep, in words.
#[must_use]
pub fn available() -> &'static str {
    imp::available()
}

/// Where libraries, their data and the system's own description lie.
#[cfg(target_os = "linux")]
fn system() -> Vec<PathBuf> {
    const SYSTEM: &[&str] = &[
        "/usr",
        "/lib",
        "/lib32",
        "/lib64",
        "/etc",
        "/opt",
        "/nix/store",
        "/proc/self",
        "/proc/meminfo",
        "/proc/cpuinfo",
        "/proc/stat",
        "/sys/fs/cgroup",
        "/sys/devices/system",
        "/dev/urandom",
        "/dev/null",
    ];
    /// Variables that name folders of data, several between colons.
    const NAMED: &[&str] = &["PROJ_DATA", "PROJ_LIB", "GDAL_DATA", "CONDA_PREFIX"];
    let named = NAMED.iter().filter_map(std::env::var_os);
    let named = named.flat_map(|value| std::env::split_paths(&value).collect::<Vec<_>>());
    // A program that is carried about has its data beside it.
    let own = std::env::current_exe().ok();
    let own = own.iter().flat_map(|program| program.ancestors().skip(1).take(2));
    let home = std::env::var_os("HOME").map(|home| Path::new(&home).join(".local/share/proj"));
    let all = SYSTEM.iter().map(PathBuf::from).chain(named).chain(own.map(Path::to_owned));
    all.chain(home).filter(|path| path.is_absolute()).collect()
}

#[cfg(target_os = "linux")]
mod imp {
    use landlock::{
        ABI, Access, AccessFs, AccessNet, CompatLevel, Compatible, Ruleset, RulesetAttr,
        RulesetCreatedAttr, RulesetError, RulesetStatus, Scope, path_beneath_rules,
    };
    use seccompiler::{BpfProgram, SeccompAction, SeccompFilter};

    use super::{Kept, Room, system};

    /// The newest form of the kernel's interface that this was written against.
    const KNOWN: ABI = ABI::V6;

    pub(super) fn enter(room: &Room) -> Kept {
        Kept { files: restrict(room).unwrap_or(false), calls: filter().is_some() }
    }

    pub(super) fn available() -> &'static str {
        if can_restrict().is_ok() {
            "the kernel keeps files and connections out of reach (Landlock and a filter of system calls)"
        } else {
            "the kernel has no Landlock: it refuses connections and programs, and does not keep files out of reach"
        }
    }

    fn can_restrict() -> Result<(), RulesetError> {
        let all = AccessFs::from_all(ABI::V1);
        let hard = Ruleset::default().set_compatibility(CompatLevel::HardRequirement);
        hard.handle_access(all)?.create().map(drop)
    }

    fn restrict(room: &Room) -> Result<bool, RulesetError> {
        let read = AccessFs::ReadFile | AccessFs::ReadDir;
        // No programs, devices, pipes, sockets or links are made.
        let write = read
            | AccessFs::WriteFile
            | AccessFs::MakeReg
            | AccessFs::MakeDir
            | AccessFs::RemoveFile
            | AccessFs::RemoveDir
            | AccessFs::Refer
            | AccessFs::Truncate;
        let status = Ruleset::default()
            .set_compatibility(CompatLevel::BestEffort)
            .handle_access(AccessFs::from_all(KNOWN))?
            .handle_access(AccessNet::from_all(KNOWN))?
            .scope(Scope::from_all(KNOWN))?
            .create()?
            .add_rules(path_beneath_rules(system(), read))?
            .add_rules(path_beneath_rules(&room.read, read))?
            .add_rules(path_beneath_rules(&room.write, write))?
            .add_rules(path_beneath_rules(&room.remove, AccessFs::RemoveDir))?
            .restrict_self()?;
        Ok(status.ruleset != RulesetStatus::NotEnforced)
    }

    /// System calls that this program has no use for once it runs, and that a file
    /// could have a use for.
    const REFUSED: &[i64] = &[
        libc::SYS_socket,
        libc::SYS_connect,
        libc::SYS_bind,
        libc::SYS_execve,
        libc::SYS_execveat,
        libc::SYS_ptrace,
        libc::SYS_process_vm_readv,
        libc::SYS_process_vm_writev,
        // Would open files and connections behind this filter.
        libc::SYS_io_uring_setup,
        libc::SYS_mount,
        libc::SYS_kexec_load,
        libc::SYS_init_module,
        libc::SYS_bpf,
    ];

    fn filter() -> Option<()> {
        let rules = REFUSED.iter().map(|call| (*call, Vec::new())).collect();
        let arch = std::env::consts::ARCH.try_into().ok()?;
        let refuse = SeccompAction::Errno(libc::EACCES as u32);
        let filter = SeccompFilter::new(rules, SeccompAction::Allow, refuse, arch).ok()?;
        let program: BpfProgram = filter.try_into().ok()?;
        seccompiler::apply_filter_all_threads(&program).ok()
    }
}

#[cfg(not(target_os = "linux"))]
mod imp {
    use super::{Kept, Room};

    pub(super) fn enter(_: &Room) -> Kept {
        Kept { files: false, calls: false }
    }

    pub(super) fn available() -> &'static str {
        "this system's kernel keeps nothing out of reach; formats, time and memory are bounded all the same"
    }
}
