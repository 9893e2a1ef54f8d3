// What the report uses of two packages that bring no types.

declare module 'pdfkit' {
  export default class PDFDocument {
    constructor(options: Record<string, unknown>);
    registerFont(name: string, file: Buffer): this;
    font(name: string): this;
    fontSize(size_pt: number): this;
    widthOfString(text: string): number;
    addPage(options: Record<string, unknown>): this;
    on(event: 'data', listen: (bytes: Buffer) => void): this;
    on(event: 'end', listen: () => void): this;
    on(event: 'error', listen: (error: Error) => void): this;
    end(): void;
  }
}

declare module 'svg-to-pdfkit' {
  import type PDFDocument from 'pdfkit';
  export default function toPdf(
    doc: PDFDocument,
    svg: string,
    x: number,
    y: number,
    options: Record<string, unknown>,
  ): void;
}
