// The address of this computer on the local network.

import { networkInterfaces } from 'node:os';

export interface LanAddress {
  device: string;
  address: string;
}

/** Networks of containers, tunnels and virtual machines, which no tablet is in. */
const NOT_THERE = /^(docker|br-|veth|virbr|vmnet|vbox|tun|tap|wg|zt|tailscale|lxc|cni|flannel)/i;

/** Private networks (RFC 1918) and the addresses that computers give themselves where nobody does (RFC 3927). */
const PRIVATE = /^(10\.|192\.168\.|172\.(1[6-9]|2\d|3[01])\.|169\.254\.)/;

/** Cables and radios by the names that they mostly have come first. */
const LIKELY = /^(wl|en|eth|wi-?fi|ethernet)/i;

/** IPv4 addresses of this computer that others may reach, the likeliest for a tablet in the same network first. */
export function lanAddresses(interfaces: ReturnType<typeof networkInterfaces> = networkInterfaces()): LanAddress[] {
  const found: LanAddress[] = [];
  for (const [device, own] of Object.entries(interfaces)) {
    for (const { family, internal, address } of own ?? []) {
      if (family === 'IPv4' && !internal && !NOT_THERE.test(device)) found.push({ device, address });
    }
  }
  const rank = ({ device, address }: LanAddress) => 2 * Number(PRIVATE.test(address)) + Number(LIKELY.test(device));
  return found.sort((a, b) => rank(b) - rank(a));
}

/**
 * The address to listen on.
 * @param asked one of this computer's, null for the likeliest
 * @throws Error in one sentence naming what there is to choose from
 */
export function lanAddress(asked: string | null, addresses = lanAddresses()): string {
  const names = addresses.map(({ address, device }) => `${address} (${device})`).join(', ');
  if (addresses.length === 0)
    throw new Error(
      'this computer is in no local network; connect it to the network that the tablet is in, or leave out --lan',
    );
  if (asked === null) {
    // An address that the whole world may reach is taken only where somebody says so.
    if (!PRIVATE.test(addresses[0]!.address))
      throw new Error(
        `this computer has no private network address, only ${names}; where that is what you want, name it with --lan-address`,
      );
    return addresses[0]!.address;
  }
  if (!addresses.some(({ address }) => address === asked))
    throw new Error(`${asked} is no address of this computer in a local network; it has ${names}`);
  return asked;
}
