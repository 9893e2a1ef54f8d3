// Names as fuse lists write them: sixty of restraint and high-voltage circuits, each in ten
// spellings, and sixty harmless ones that look or sound alike.

export const RESTRICTED_NAMES: readonly string[] = [
  'airbag unit', 'air bag control module', 'driver airbag', 'curtain airbag left', 'SRS', 'SRS control unit', 'ACM', 'RCM', 'SDM', 'restraint control module',
  'occupant classification', 'occupant detection sensor', 'passenger presence', 'seat belt buckle', 'seat belt', 'seat belt pretensioner', 'belt tensioner', 'pretensioner front', 'crash sensor front', 'rollover protection',
  'roll bar release', 'side impact sensor', 'pyrotechnic switch', 'active head restraint', 'pedestrian protection', 'seat belt reminder', 'ORC', 'OCS', 'A/BAG indicator', 'safety belt motor',
  'HV battery', 'HV', 'high voltage heater', 'high voltage junction box', 'contactor', 'DC/DC converter', 'DC converter', 'DCDC', 'inverter cooling pump', 'traction battery',
  'traction motor', 'hybrid control unit', 'hybrid battery fan', 'on board charger', 'OBC', 'charger on board', 'pre charge relay', 'battery management', 'charge port', 'charging flap',
  'electric drive', 'drive motor', 'HVIL', 'BMS', 'PHEV control', '48 V battery', '230 V socket', 'motor generator', 'electric compressor', 'power electronics',
];

/** As is, other case, with hyphens, in one word or dotted, plural, with other signs, in a longer name. */
export function spellings(name: string): string[] {
  const letters = /^[A-Z]{2,5}(?= |$)/.exec(name)?.[0];
  const title = name.replace(/(^| )\p{L}/gu, (letter) => letter.toUpperCase());
  const joined = letters === undefined ? name.replaceAll(' ', '') : name.replace(letters, `${[...letters].join('.')}.`);
  return [
    name, name === name.toUpperCase() ? name.toLowerCase() : name.toUpperCase(), `${title} A`, `left-${name.replaceAll(' ', '-')}`, `${joined} module`,
    `${name}s`, `${name.replaceAll(' ', '_').replaceAll('/', '-')}_1`, `${title.replaceAll(' ', '\u00a0')} 2`,
    `rear (${name.replaceAll(' ', '\u2011').toLowerCase()})`, `${name.toLowerCase().replaceAll(' ', '  ').replaceAll('/', ' / ')}: supply`,
  ];
}

export const HARMLESS_NAMES: readonly string[] = [
  'air conditioning', 'A/C compressor clutch', 'A/C', 'air conditioning compressor', 'HVAC', 'HVAC blower', 'seat heating', 'heated seat left', 'passenger seat heating', 'seat memory',
  'seat ventilation', 'seat motor', 'headrest motor', 'charger socket', 'USB charger', 'wireless phone charger', 'battery charger socket', 'phone charging pad', '12 V socket', 'turbocharger valve',
  'charge air cooler pump', 'alternator', 'battery sensor', 'auxiliary battery', 'traction control', 'traction control switch', 'EVAP valve', 'EGR valve', 'ACC radar', 'air suspension compressor',
  'air mass meter', 'tyre inflator socket', 'catalytic converter heater', 'torque converter lock', 'shift interlock', 'crank sensor', 'crankcase heater', 'voltage regulator', 'high beam left', 'high level brake lamp',
  'curtain blind motor', 'roller blind', 'roof drive unit', 'electric window', 'electric mirror', 'power steering', 'power seat', 'power socket front', 'passenger door module', 'child lock',
  'steering lock', 'side lamp', 'trailer socket', 'tailgate motor', 'engine control', 'ABS', 'body control', 'gateway', 'telematics box', 'xenon headlamp',
];
