// The systemd unit that records known boards and serves the view on a computer in the bay,
// with no more rights than that takes (systemd.exec(5), systemd.resource-control(5)).

export interface ServiceParts {
  /** Program and arguments; the first is an absolute path. */
  command: readonly string[];
  /** The page is for the local network too, so the service waits for it. */
  lan: boolean;
  /** The group that owns serial ports here. */
  group: string;
}

/** Below /var/lib and /etc; systemd makes both and gives them to the service's own user. */
export const STATE = 'nightdraw';
export const CAPTURES_DIR = `/var/lib/${STATE}/captures`;
export const SETTINGS_DIR = `/etc/${STATE}`;

export function unitFile({ command, lan, group }: ServiceParts): string {
  const network = lan ? 'network-online.target' : 'network.target';
  return `# Records known boards unasked and serves the view. Made by 'nightdraw always-on'.
[Unit]
Description=nightdraw, records cars that stand and serves the morning view
After=${network} modprobe@usbserial.service modprobe@cdc_acm.service
# The kernel knows the kinds of ports below only once their drivers are loaded.
Wants=${lan ? `${network} ` : ''}modprobe@usbserial.service modprobe@cdc_acm.service
# A night is worth trying again however often it failed.
StartLimitIntervalSec=0

[Service]
Type=exec
ExecStart=${command.map(quoted).join(' ')}
Restart=always
RestartSec=2
# What came is in the files; the recordings stay unfinished and are gone on with.
TimeoutStopSec=30
OOMScoreAdjust=-500
Nice=-5

# A user of its own, whose files are in /var/lib/${STATE}; the workshop's settings in ${SETTINGS_DIR}.
DynamicUser=yes
SupplementaryGroups=${group}
StateDirectory=${STATE} ${STATE}/captures
ConfigurationDirectory=${STATE}
WorkingDirectory=${SETTINGS_DIR}
Environment=XDG_CONFIG_HOME=/var/lib/${STATE}
UMask=0077

# Serial ports of boards, and no other device.
DevicePolicy=closed
DeviceAllow=char-ttyUSB rw
DeviceAllow=char-ttyACM rw

# MemoryDenyWriteExecute cannot be set: the JavaScript engine writes the code that it runs.
CapabilityBoundingSet=
NoNewPrivileges=yes
ProtectSystem=strict
ProtectHome=yes
PrivateTmp=yes
PrivateMounts=yes
ProtectClock=yes
ProtectControlGroups=yes
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
ProtectProc=invisible
LockPersonality=yes
# Netlink: which addresses this computer has.
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6 AF_NETLINK
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources
SystemCallErrorNumber=EPERM

[Install]
WantedBy=multi-user.target
`;
}

/** One word of a command line (systemd.service(5), "Command lines"; systemd.unit(5), "Specifiers"). */
export function quoted(word: string): string {
  const plain = word
    .replaceAll('%', '%%')
    .replaceAll('$', '$$$$')
    .replaceAll('\\', '\\\\')
    .replaceAll('"', '\\"')
    .replaceAll('\n', '\\n');
  return /^[\w@+=:,./-]+$/.test(word) ? word : `"${plain}"`;
}
