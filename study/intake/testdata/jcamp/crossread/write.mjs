// Writes five files with one made-up spectrum, each in another form, with
// convert-to-jcamp 7.0.1, and the spectrum itself as JSON:
//
//	npm install && node write.mjs
import { writeFileSync } from 'node:fs';
import { fromJSON } from 'convert-to-jcamp';

// A made-up coupon: reflectance in ten-thousandths over 350 to 750 nm, with a few
// values below zero and a flat stretch shorter than a saturated detector's.
const wavelengths = [];
const tenThousandths = [];
for (let i = 0; i <= 400; i++) {
  wavelengths.push(350 + i);
  let value = Math.round(180 + 190 * Math.sin(i / 40) + 9 * Math.sin(i * 1.7));
  if (i >= 60 && i < 72) value = 377;
  tenThousandths.push(value);
}

for (const form of ['FIX', 'PAC', 'SQZ', 'DIF', 'DIFDUP']) {
  const text = fromJSON(
    { x: wavelengths, y: tenThousandths.map((v) => v / 10000) },
    {
      xyEncoding: form,
      info: {
        title: `made-up G07 ${form}`, dataType: 'UV/VIS SPECTRUM', origin: 'made up', owner: 'nobody',
        xUnits: 'NANOMETERS', yUnits: 'REFLECTANCE', yFactor: 0.0001,
      },
    },
  );
  writeFileSync(new URL(`../written-${form.toLowerCase()}.jdx`, import.meta.url), `${text}\n`);
}
const columns = { writer: 'convert-to-jcamp 7.0.1', nm: wavelengths, tenThousandths };
writeFileSync(new URL('written.json', import.meta.url), `${JSON.stringify(columns)}\n`);
