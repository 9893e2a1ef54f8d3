// INT0 on PD2 (ATmega328P data sheet DS40002061, section 13.2): flag and edge
// sense. The flag is set whether or not the interrupt is enabled, as on the chip.
import type { CPU } from 'avr8js';

const EICRA = 0x69;
const EIMSK = 0x3d;
const EIFR = 0x3c;
const INT0 = 1;
const INTERRUPT = {
  address: 0x02,
  flagRegister: EIFR,
  flagMask: INT0,
  enableRegister: EIMSK,
  enableMask: INT0,
  constant: false,
};

export class ExternalInterrupt {
  private level = true;

  constructor(private readonly cpu: CPU) {
    cpu.writeHooks[EIMSK] = (value) => {
      cpu.data[EIMSK] = value;
      cpu.updateInterruptEnable(INTERRUPT, value);
      return true;
    };
    cpu.writeHooks[EIFR] = (value, _old, _address, mask) => {
      cpu.clearInterruptByFlag(INTERRUPT, value & mask);
      return true;
    };
  }

  setLevel(level: boolean): void {
    if (level === this.level) return;
    this.level = level;
    const sense = this.cpu.data[EICRA]! & 3;
    if (sense === 0) {
      if (!level && this.cpu.data[EIMSK]! & INT0)
        throw new Error('INT0 on the low level (ISC0 = 0) is not modelled; edges are');
      return;
    }
    if (sense === 1 || (sense === 2 && !level) || (sense === 3 && level)) this.cpu.setInterruptFlag(INTERRUPT);
  }
}
