//! How much memory there is to be had: what a limit on the process leaves, what its control groups leave, and what the machine has.
//!
//! Asked before a long render, so that one which can't fit is refused in words and not ended by the system half-way. What
//! can't be told is taken as enough.

use std::fs;
use std::path::{Path, PathBuf};

/// What the program takes before any audio is there: its code, its stacks, what it knows of its kits.
const OWN: u64 = 64 << 20;
/// What a thread takes of addresses beside its stack: what its share of the heap is given beforehand (64 MiB in glibc [memory]).
const OF_THREAD: u64 = 66 << 20;

/// Bytes that audio may take in this process, what it holds already counted: within the limit on its addresses, and within what its
/// control groups and the machine have available.
pub(crate) fn room() -> Option<u64> {
    let most = match (addresses(), available(Path::new("/"))) {
        (Some(one), Some(other)) => one.min(other),
        (one, other) => one.or(other)?,
    };
    Some(most.saturating_sub(OWN))
}

/// The number of threads for which a limit on addresses has room besides 150 MiB for the work; none where there is no limit.
pub(crate) fn threads() -> Option<usize> {
    let left = addresses()?.saturating_sub(OWN + (86 << 20));
    Some(usize::try_from(left / OF_THREAD).unwrap_or(usize::MAX).max(1))
}

/// The limit on the process's addresses, as `ulimit -v` sets it.
fn addresses() -> Option<u64> {
    limit(&fs::read_to_string("/proc/self/limits").ok()?)
}

/// What the process holds and what it may still have before a control group or the machine runs out, by the files of a system
/// below `root`.
fn available(root: &Path) -> Option<u64> {
    let read = |file: &str| fs::read_to_string(root.join("proc").join(file)).ok();
    // What it has freed is still its own: memory is kept for the next signal.
    let own = read("self/status").and_then(|text| kib(&text, "RssAnon:")).unwrap_or(0);
    let machine = read("meminfo").and_then(|text| kib(&text, "MemAvailable:"));
    let groups = groups(
        &read("self/cgroup").unwrap_or_default(),
        &read("self/mountinfo").unwrap_or_default(),
    );
    let left = groups.iter().flat_map(|group| group.left(root));
    Some(left.chain(machine).min()?.saturating_add(own))
}

/// The hierarchies of control groups, which name their files differently.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Version {
    /// Linux, admin-guide/cgroup-v1/memory.
    One,
    /// Linux, admin-guide/cgroup-v2.
    Two,
}

/// The group of a hierarchy that the process is in.
#[derive(Debug, PartialEq)]
struct Group {
    version: Version,
    /// Where the hierarchy is mounted.
    mount: PathBuf,
    /// The group's folder below it.
    path: PathBuf,
}

impl Group {
    /// What it and every group around it leave.
    fn left(&self, root: &Path) -> Vec<u64> {
        let mount = root.join(self.mount.strip_prefix("/").unwrap_or(&self.mount));
        let around = self.path.ancestors();
        around.filter_map(|path| self.version.left(&mount.join(path))).collect()
    }
}

impl Version {
    /// What one group leaves: its limit less what it takes, of which its cache gives way.
    fn left(self, folder: &Path) -> Option<u64> {
        let read = |file: &str| fs::read_to_string(folder.join(file)).ok();
        let number = |file: &str| read(file)?.trim().parse::<u64>().ok();
        let (limits, current, cache): (&[&str], _, &[&str]) = match self {
            Version::One => (
                &["memory.limit_in_bytes"],
                "memory.usage_in_bytes",
                &["total_inactive_file", "total_active_file"],
            ),
            Version::Two => (
                &["memory.max", "memory.high"],
                "memory.current",
                &["inactive_file", "active_file", "slab_reclaimable"],
            ),
        };
        // A limit that is not set is the word `max`.
        let most = limits.iter().filter_map(|file| number(file)).min()?;
        let stat = read("memory.stat").unwrap_or_default();
        let cached: u64 = cache.iter().filter_map(|name| value(&stat, name)).sum();
        Some(most.saturating_sub(number(current)?.saturating_sub(cached)))
    }
}

/// The groups that count memory, by /proc/self/cgroup (cgroups(7)) and /proc/self/mountinfo (proc_pid_mountinfo(5)).
fn groups(cgroup: &str, mounts: &str) -> Vec<Group> {
    let group = |line: &str| {
        let (_, rest) = line.split_once(':')?;
        let (controllers, path) = rest.split_once(':')?;
        let version = match controllers {
            "" => Version::Two,
            _ if controllers.split(',').any(|name| name == "memory") => Version::One,
            _ => return None,
        };
        let (from, mount) = mounts.lines().find_map(|line| mounted(line, version))?;
        // What is mounted may be a part of the hierarchy alone; a path that leads out of it says no more than that.
        let path = Path::new(path).strip_prefix(from).unwrap_or(Path::new(""));
        let leads_out = path.components().any(|part| part.as_os_str() == "..");
        Some(Group {
            version,
            mount: PathBuf::from(mount.replace("\\040", " ")),
            path: if leads_out { PathBuf::new() } else { path.to_path_buf() },
        })
    };
    cgroup.lines().filter_map(group).collect()
}

/// Which part of a hierarchy a line of mountinfo mounts, and where; none where it mounts another thing.
fn mounted(line: &str, version: Version) -> Option<(&str, &str)> {
    let (before, after) = line.split_once(" - ")?;
    let mut after = after.split(' ');
    let (kind, options) = (after.next()?, after.nth(1)?);
    let counts = match version {
        Version::One => kind == "cgroup" && options.split(',').any(|option| option == "memory"),
        Version::Two => kind == "cgroup2",
    };
    let mut before = before.split(' ').skip(3);
    counts.then_some((before.next()?, before.next()?))
}

/// Finds the limit in a text as Linux gives it (proc_pid_limits(5)).
fn limit(text: &str) -> Option<u64> {
    let line = text.lines().find_map(|line| line.strip_prefix("Max address space"))?;
    line.split_whitespace().next()?.parse().ok()
}

/// Finds a number of KiB in a text as Linux gives it (proc_meminfo(5), proc_pid_status(5)), in bytes.
fn kib(text: &str, name: &str) -> Option<u64> {
    value(text, name)?.checked_mul(1 << 10)
}

/// Finds the number behind a name that begins a line.
fn value(text: &str, name: &str) -> Option<u64> {
    let mut lines = text.lines().map(str::split_whitespace);
    lines.find_map(|mut words| (words.next() == Some(name)).then(|| words.next()?.parse().ok()))?
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::path::Path;

    use super::{available, kib, limit};

    const MIB: u64 = 1 << 20;

    #[test]
    fn limits_are_found_where_there_are_any() {
        let text = "Limit                     Soft Limit           Hard Limit           Units     \n\
                    Max stack size            8388608              unlimited            bytes     \n\
                    Max address space         307200000            unlimited            bytes     \n";
        assert_eq!(limit(text), Some(307_200_000));
        assert_eq!(limit(&text.replace("307200000", "unlimited")), None);
        assert_eq!(limit(""), None);
        let text = "MemFree: 3 kB\nMemAvailable:   24683356 kB\n";
        assert_eq!(kib(text, "MemAvailable:"), Some(24_683_356 * 1024));
        assert_eq!(kib("MemAvailable: lots\n", "MemAvailable:"), None);
    }

    /// A system of files with their texts.
    fn system(files: &[(&str, &str)]) -> tempfile::TempDir {
        let root = tempfile::tempdir().expect("a folder");
        for (path, text) in files {
            let path = root.path().join(path);
            fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
            fs::write(path, text).expect("a file");
        }
        root
    }

    /// What is available in MiB.
    fn left(root: &Path) -> Option<u64> {
        available(root).map(|bytes| bytes / MIB)
    }

    fn put(root: &Path, file: &str, mib: u64) {
        fs::write(root.join(file), format!("{}\n", mib * MIB)).expect("a file");
    }

    const MACHINE: (&str, &str) = (
        "proc/meminfo",
        "MemTotal: 9437184 kB\nMemFree: 1024 kB\nMemAvailable: 4194304 kB\n",
    );

    #[test]
    fn without_groups_it_is_what_the_machine_has_available_and_what_is_held_already() {
        let root = system(&[MACHINE]);
        assert_eq!(left(root.path()), Some(4096));
        let status = "Name:\tpressroll\nVmRSS:\t  409600 kB\nRssAnon:\t  307200 kB\n";
        let root = system(&[MACHINE, ("proc/self/status", status)]);
        assert_eq!(left(root.path()), Some(4396));
        assert_eq!(left(system(&[]).path()), None);
    }

    #[test]
    fn the_tightest_of_all_groups_around_counts_and_cache_gives_way() {
        let root = system(&[
            MACHINE,
            ("proc/self/cgroup", "0::/harbour.slice/radio.service\n"),
            (
                "proc/self/mountinfo",
                "22 1 0:20 / / rw - ext4 /dev/sda rw\n30 22 0:26 / /sys/fs/cgroup rw,nosuid shared:4 - cgroup2 cgroup2 rw\n",
            ),
            ("sys/fs/cgroup/harbour.slice/memory.max", "max\n"),
            ("sys/fs/cgroup/harbour.slice/memory.high", "max\n"),
            ("sys/fs/cgroup/harbour.slice/radio.service/memory.max", "max\n"),
        ]);
        let root = root.path();
        assert_eq!(left(root), Some(4096), "no limit in any of them");
        let own = "sys/fs/cgroup/harbour.slice/radio.service/";
        put(root, &format!("{own}memory.max"), 1000);
        put(root, &format!("{own}memory.current"), 700);
        assert_eq!(left(root), Some(300));
        let stat = format!(
            "anon {}\nfile {}\ninactive_file {}\nactive_file {}\n",
            400 * MIB,
            300 * MIB,
            200 * MIB,
            50 * MIB
        );
        fs::write(root.join(own).join("memory.stat"), stat).expect("a file");
        assert_eq!(left(root), Some(550), "cache gives way");
        put(root, &format!("{own}memory.high"), 900);
        assert_eq!(left(root), Some(450), "where it is throttled comes first");
        put(root, "sys/fs/cgroup/harbour.slice/memory.max", 2000);
        put(root, "sys/fs/cgroup/harbour.slice/memory.current", 1900);
        assert_eq!(left(root), Some(100), "the group around it");
        put(root, "sys/fs/cgroup/harbour.slice/memory.current", 2100);
        assert_eq!(left(root), Some(0));
    }

    #[test]
    fn groups_of_the_first_version_are_found_by_their_controller() {
        let root = system(&[
            MACHINE,
            (
                "proc/self/cgroup",
                "5:cpu,cpuacct:/\n4:hugetlb,memory:/docks/crane\n1:name=systemd:/\n0::/\n",
            ),
            (
                "proc/self/mountinfo",
                "31 23 0:28 / /sys/fs/cgroup rw - tmpfs tmpfs rw\n\
                 32 31 0:29 / /sys/fs/cgroup/cpu rw - cgroup cgroup rw,cpu,cpuacct\n\
                 35 31 0:32 /docks /sys/fs/cgroup/memory rw - cgroup cgroup rw,hugetlb,memory\n",
            ),
            // Not set: the largest number of whole pages.
            ("sys/fs/cgroup/memory/memory.limit_in_bytes", "9223372036854771712\n"),
            ("sys/fs/cgroup/memory/memory.usage_in_bytes", "1048576000\n"),
        ]);
        let root = root.path();
        assert_eq!(left(root), Some(4096));
        let own = "sys/fs/cgroup/memory/crane/";
        fs::create_dir_all(root.join(own)).expect("a folder");
        put(root, &format!("{own}memory.limit_in_bytes"), 512);
        put(root, &format!("{own}memory.usage_in_bytes"), 500);
        assert_eq!(left(root), Some(12), "only a part of the hierarchy is mounted");
        let stat = format!("inactive_file 4096\ntotal_inactive_file {}\n", 100 * MIB);
        fs::write(root.join(own).join("memory.stat"), stat).expect("a file");
        assert_eq!(left(root), Some(112));
        // Seen from within, the path may lead out of what is mounted: the mount is then all that is known.
        fs::write(root.join("proc/self/cgroup"), "4:memory:/../docks\n").expect("a file");
        put(root, "sys/fs/cgroup/memory/memory.limit_in_bytes", 3000);
        assert_eq!(left(root), Some(2000));
    }
}
