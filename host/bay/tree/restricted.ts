// How fuse lists call the circuits that only the car maker's procedure may touch: restraint
// systems (airbags and whatever else is fired or holds a person) and high voltage. All words
// of that kind stand here and nowhere else. A word that may mean such a circuit counts as one:
// a circuit too many costs a reading, one too few may cost a hand.
//
// High voltage is more than 60 V direct or 30 V alternating current (UN Regulation No. 100,
// section 2); 48 V is refused with it (firmware/BOARD.md). The words are those of fuse lists
// and service literature, from memory: no published list of them is known.

/** Each begins a word of the name; a blank in it is a blank, a hyphen, or nothing. */
const RESTRAINT = [
  // Airbags, also as some lists shorten them: A/BAG.
  'air bag',
  'a bag',
  '(curtain|knee|side) bag',
  'inflatable',
  'inflator(?! (kit|socket|outlet|pump|compressor))',
  'squib',
  'gas generator',
  // Belts. A tensioner of an engine's own belt is mechanical and has no fuse.
  '(seat|safety) belt',
  'belt (tens|pretens|pre tens|buckle|lock|latch|retract|warn|remind|minder|switch|force|load|motor|unit|module|height)',
  '(active|driver|passenger|front|rear|left|right) belt',
  'buckle',
  'pre ten[st]',
  'tensioner',
  // Who sits there, and what holds a person.
  'occupan',
  'occupied',
  'occupation',
  'passenger (seat )?(presence|sens|weight|detect|classif)',
  'seat (weight|presence|mat\\b|pressure)',
  '(child|person) (seat )?(detect|presence)',
  'restraint',
  'safing',
  // Crashes, and what is fired or springs open then.
  'crash',
  '(impact|collision) sens',
  '(front|side|rear) impact',
  'impact (module|unit)',
  'roll over',
  'over roll',
  'roll (bar|hoop)',
  'pop up (bonnet|hood|roll)',
  '(active|deployable) (bonnet|hood|head)',
  'pedestrian (protection|safety|impact)',
  'pyro',
  'battery (disconnect|isolat|cut off|safety)',
  'safety (battery )?terminal',
  'passive safety',
  // German, French, Spanish, Portuguese, Italian, Dutch, Swedish, Polish.
  'gurt',
  'rue?ckhalte',
  'insassen',
  'ue?berroll',
  'sitzbeleg',
  'zue?ndpille',
  '(coussin|sac)s? gonflable',
  'pretend',
  'ceinture',
  'retenue',
  'bolsas? de (aire|ar)\\b',
  'cinturon',
  'pretensor',
  'cintos?\\b',
  'cintur[ae]',
  'gordel',
  'krockkudd',
  'balte',
  'poduszk',
  'pas(y|ow) bezp',
  'napinacz',
];

/** Traction control is harmless, in whatever order a language puts the two words. */
const NOT_CONTROL = '(?<!control\\w* (?:de |della |di )?)';

const HIGH_VOLTAGE = [
  'hi(gh)? volt',
  'high tension',
  'hv (bat|bms|ecu|junction|heat|il|jb|dc|ptc|charg|interlock|contact|relay|comp|pump|main|system|cool|sens|supply|unit|mod|box|line|cable)',
  `${NOT_CONTROL}traction(?! (control|ctrl|contr|cont|assist|stability|slip|mode|off|switch|button|lamp|warning|select))`,
  // Converters, in any spelling of DC/DC.
  'dc (to |2 |a )?dc',
  'invert[eo]r',
  '(dc|voltage|power|step down|step up|buck|boost) conv',
  'power electronic',
  'hybrid',
  'plug in',
  // Charging from outside the car.
  'on board (battery )?charg',
  'charger (on board|control|unit|module|ecu|relay|fan|cool|pump)',
  '(charge|charging) (on board|port|inlet|flap|lid|door|lock|plug|cable|cord|control|unit|module|ecu|manage|socket|station|point)',
  'vehicle inlet',
  '(fast|quick|rapid|ac|dc|mains) charg',
  'battery charg(?!er (socket|outlet))',
  'evse',
  'pre charg',
  'contactor',
  'interlock loop',
  '(service|safety) (plug|disconnect)',
  'manual disconnect',
  // Drives, and the battery that feeds them. Windows and roofs have drives too.
  '(electric|e) (drive|machine|axle|powertrain|motor|turbo|supercharg|super charg|comp|compressor)s?\\b',
  '(electric|front|rear|left|right|traction) drive (unit|motor)',
  '(?<!\\S )drive (motor|unit|inverter)',
  'motor generator',
  '(belt )?starter generator',
  'generator starter',
  'belt (driven |alternator |alternator driven )?starter',
  '(main|drive|propulsion|lithium|li ion) (battery|accumulator)',
  'battery (pack|manage|energy|control|ecu|cool|fan|blower|heat|inlet|junction)',
  'electric(al)? (a c|ac|air con(ditioning)?|climate|refrigerant) comp',
  'propulsion',
  // German, French, Spanish, Portuguese, Italian, Dutch, Swedish, Polish.
  'hochspann',
  'traktion(?!skontr)',
  'bordlad',
  'gleichspannungswandler',
  'spannungswandler',
  'antriebsbatt',
  'haute tension',
  'onduleur',
  'convertisseur',
  'chargeur (embarq|de bord)',
  'alta tens',
  'alto volt',
  'inversor',
  'cargador (a bordo|de a bordo|embarc)',
  `${NOT_CONTROL}(traccion|tracao|trazione)`,
  'caricabatteri[ea] di bordo',
  'hoogspan',
  'hoogvolt',
  'omvormer',
  'boordlad',
  'tractie',
  'hogspann',
  'hogvolt',
  'vaxelrikt',
  'omriktar',
  'wysoki(e|ego) napi',
  'falownik',
  'przetwornic',
];

/** Whole words of the name, with or without a plural s. */
const ABBREVIATIONS = new Set([
  // Airbag, restraint and occupant modules.
  'srs',
  'srscm',
  'sir',
  'acm',
  'acu',
  'acsm',
  'abm',
  'rcm',
  'rcu',
  'sdm',
  'orc',
  'ocs',
  'ocm',
  'ods',
  'opds',
  'pods',
  'pps',
  'mrs',
  'pab',
  'dab',
  'rops',
  // High voltage, hybrid and electric drive, charging, 48 V.
  'hv',
  'hvb',
  'hvil',
  'hvjb',
  'hvdc',
  'hvh',
  'hvch',
  'ldc',
  'apm',
  'obc',
  'obcm',
  'bms',
  'bmu',
  'becm',
  'bpcm',
  'bjb',
  'ptc',
  'msd',
  'vcms',
  'ev',
  'bev',
  'hev',
  'phev',
  'mhev',
  'fhev',
  'reev',
  'fcev',
  'hpcu',
  'hcu',
  'mcu',
  'pim',
  'tpim',
  'peb',
  'pcu',
  'isg',
  'bsg',
  'bisg',
  'eac',
  'mg',
]);

/** Compound words have these anywhere: Seitenairbag, sidecurtainairbags. */
const ANYWHERE =
  /airbag|seatbelt|pretens|pretention|gurtstraff|hochvolt|highvolt|dcdc|inverter|wechselrichter|precharge|pyrotechn|onboardcharg/;

/** A charger that is not named further. That of a phone, and what the engine charges, are harmless. */
const CHARGER = /(^| )charg(er|ers|ing|e)( |$)/;
const HARMLESS_CHARGER =
  /usb|phone|mobile|wireless|induct|tablet|device|torch|lighter|accessory|console|(^| )qi( |$)|(charger|adapter)s? (socket|outlet|point)|turbo|super charg|charge (air|pressure)|alternator/;

/** From 48 V on: that, the 230 V of a socket, 400 V (firmware/BOARD.md, "Where to clamp, and what is refused"). */
const VOLT_LEAST = 48;
const VOLTS = /(?:^| )(\d+) k?v(?!alv|ent|ehic|an)/g;

const beginsWord = (words: readonly string[]) =>
  new RegExp(`(^| )(${words.map((word) => word.replace(/ (?!\))/g, ' ?')).join('|')})`);
const RESTRAINT_WORD = beginsWord(RESTRAINT);
const HIGH_VOLTAGE_WORD = beginsWord(HIGH_VOLTAGE);

/** Whether a name of a fuse, a part or a box may mean a restraint or high-voltage circuit. */
export function restrictedName(name: string): boolean {
  const plain = plainWords(name);
  if (plain.split(' ').some((word) => ABBREVIATIONS.has(word) || ABBREVIATIONS.has(word.replace(/s$/, ''))))
    return true;
  if (RESTRAINT_WORD.test(plain) || HIGH_VOLTAGE_WORD.test(plain) || ANYWHERE.test(plain.replaceAll(' ', '')))
    return true;
  if (CHARGER.test(plain) && !HARMLESS_CHARGER.test(plain)) return true;
  return [...plain.matchAll(VOLTS)].some(([, volts]) => Number(volts) >= VOLT_LEAST);
}

/** Single letters in a row, each with one sign between them. */
const SINGLE_LETTERS = ['\\.', '/', '-', '_', ' '].map(
  (sign) => new RegExp(`(?<!\\p{L})\\p{L}(?:${sign}\\p{L}(?!\\p{L}))+`, 'gu'),
);

/**
 * Small letters without accents, one blank for whatever separates words, letters and digits
 * parted. Single letters with the same sign between them are one word: `S.R.S.`, `H/V A/C`.
 */
function plainWords(name: string): string {
  const bare = name
    .normalize('NFKD')
    .replace(/[\p{M}\u00ad\u200b-\u200d\u2060\ufeff'’]/gu, '')
    .replace(/\p{Pd}|\u2212/gu, '-')
    .replace(/[·•]/g, '.');
  let text = bare
    .replace(/(\p{Ll})(\p{Lu})/gu, '$1 $2')
    .toLowerCase()
    .replaceAll('ł', 'l')
    .replaceAll('ß', 'ss')
    .replace(/(\p{L})(\p{N})/gu, '$1 $2')
    .replace(/(\p{N})(\p{L})/gu, '$1 $2');
  for (const run of SINGLE_LETTERS) text = text.replace(run, (found) => found.replace(/[^\p{L}]/gu, ''));
  return text.replace(/[^\p{L}\p{N}]+/gu, ' ').trim();
}
