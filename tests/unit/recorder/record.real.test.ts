// Recording in real time, through the serial port package and a pseudo-terminal.
import { recordingCases } from './recording-cases.ts';

recordingCases('real');
