// The udev rule that starts the service when something is plugged in that a board may be
// behind (udev(7); systemd.device(5), SYSTEMD_WANTS).

/** Which board it is, no rule can know: the converter's own number is that of the converter. */
export function rulesFile(): string {
  return `# Starts nightdraw when a USB serial converter is plugged in. It asks for the board's own
# number, and records boards that it knows. Made by 'nightdraw always-on'.
ACTION=="add", SUBSYSTEM=="tty", KERNEL=="ttyUSB[0-9]*|ttyACM[0-9]*", SUBSYSTEMS=="usb", TAG+="systemd", ENV{SYSTEMD_WANTS}+="nightdraw.service"
`;
}
