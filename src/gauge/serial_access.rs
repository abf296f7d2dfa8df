//! Who stands in the way of a port: the programs that have it open, the group that owns it.

use std::path::Path;

/// A program that has a port open.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Holder {
    /// Its name, as the system has it.
    pub name: String,
    /// Its process' number.
    pub process: u32,
}

impl std::fmt::Display for Holder {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "`{}` (process {})", self.name, self.process)
    }
}

/// Other programs that have this port open, as far as this user may see; always none where the
/// system does not tell.
pub fn holders(port: &str) -> Vec<Holder> {
    let Ok(device) = std::fs::canonicalize(port) else {
        return Vec::new();
    };
    let Ok(processes) = std::fs::read_dir("/proc") else {
        return Vec::new();
    };
    let mine = std::process::id();
    let numbers = processes.flatten().filter_map(|entry| {
        let number: u32 = entry.file_name().to_str()?.parse().ok()?;
        (number != mine && has_open(&entry.path(), &device)).then_some(number)
    });
    let mut holders: Vec<Holder> = numbers
        .map(|process| Holder {
            name: name_of(process),
            process,
        })
        .collect();
    holders.sort_by_key(|holder| holder.process);
    holders
}

fn has_open(process: &Path, device: &Path) -> bool {
    // The files of another user's process are not shown: it is then not found.
    let Ok(files) = std::fs::read_dir(process.join("fd")) else {
        return false;
    };
    let mut targets = files.flatten().map(|file| std::fs::read_link(file.path()));
    targets.any(|target| target.is_ok_and(|target| target == device))
}

fn name_of(process: u32) -> String {
    let name = std::fs::read_to_string(format!("/proc/{process}/comm"));
    let name = name.unwrap_or_default().trim().to_owned();
    match name.is_empty() {
        true => "another program".to_owned(),
        false => name,
    }
}

/// What this user has to do to be allowed to open a port; nothing where that is allowed, or where
/// the system does not tell.
#[cfg(unix)]
pub fn way_in(port: &str) -> Option<String> {
    use nix::unistd::{Gid, Group, Uid, User, geteuid, getgroups};
    use rustix::fs::Access;
    let stat = rustix::fs::stat(port).ok()?;
    if rustix::fs::access(port, Access::READ_OK | Access::WRITE_OK).is_ok() {
        return None;
    }
    let owner = User::from_uid(Uid::from_raw(stat.st_uid)).ok().flatten();
    let owner = owner.map_or_else(|| stat.st_uid.to_string(), |user| user.name);
    let group = Group::from_gid(Gid::from_raw(stat.st_gid)).ok().flatten();
    let me = User::from_uid(geteuid())
        .ok()
        .flatten()
        .map(|user| user.name);
    // Read and write for the group.
    let group = group.filter(|_| stat.st_mode & 0o060 == 0o060 && stat.st_gid != 0);
    let Some(group) = group else {
        return Some(format!(
            "only `{owner}` may open it: ask who looks after this computer to give it to a group \
             that you are in"
        ));
    };
    let name = &group.name;
    let in_session = getgroups().is_ok_and(|groups| groups.contains(&group.gid));
    let on_the_list = me.as_ref().is_some_and(|me| group.mem.contains(me));
    Some(match me {
        _ if in_session => format!(
            "the group `{name}` owns it and you are in it: ask who looks after this computer what \
             else forbids it"
        ),
        Some(_) if on_the_list => {
            format!("you were put into the group `{name}`, which owns it: log out and in again")
        }
        Some(me) => format!(
            "the group `{name}` owns it: `sudo usermod -aG {name} {me}`, then log out and in again"
        ),
        None => format!("the group `{name}` owns it: join it, then log out and in again"),
    })
}

/// Elsewhere a port in use and one that may not be opened cannot be told apart without opening it.
#[cfg(not(unix))]
pub fn way_in(_: &str) -> Option<String> {
    None
}
