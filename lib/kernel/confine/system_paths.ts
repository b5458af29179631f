/**
 * What the runtime itself reads: its libraries, random numbers, the time zone,
 * facts on processors and memory, and itself as a process.
 */
export const runtimeReads: readonly string[] = [
  ...["/lib", "/lib64", "/usr/lib", "/usr/lib64", "/usr/local/lib"],
  ...["/etc/ld.so.cache", "/etc/ld.so.conf", "/etc/ld.so.conf.d"],
  ...["/etc/localtime", "/etc/timezone", "/usr/share/zoneinfo"],
  ...["/dev/null", "/dev/zero", "/dev/random", "/dev/urandom"],
  ...["/proc/self", "/proc/meminfo", "/proc/cpuinfo", "/proc/stat"],
  ...["/proc/version", "/proc/sys/vm", "/proc/sys/kernel"],
  ...["/sys/devices/system/cpu", "/sys/fs/cgroup"],
  "/sys/kernel/mm/transparent_hugepage",
];

/** What the runtime writes to. */
export const runtimeWrites: readonly string[] = ["/dev/null"];

/** What is read to reach hosts. */
export const networkReads: readonly string[] = [
  ...["/etc/resolv.conf", "/etc/hosts", "/etc/host.conf", "/etc/gai.conf"],
  ...["/etc/nsswitch.conf", "/etc/services", "/etc/protocols"],
  ...["/run/systemd/resolve", "/run/resolvconf", "/etc/ssl", "/etc/pki"],
  ...["/usr/share/ca-certificates", "/usr/local/share/ca-certificates"],
  "/etc/ca-certificates",
];

/** What programs need that the person allowed to run. */
export const programReads: readonly string[] = [
  ...["/bin", "/sbin", "/usr", "/opt", "/etc", "/nix/store", "/gnu/store"],
];
