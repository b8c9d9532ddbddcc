// Reads the made-up files with jcampconverter 9.6.4 and writes what it finds:
//
//	npm install && node read.mjs
//
// Left out are files with what it does not read: ##XYPOINTS=, exponents in
// (X++(Y..Y)), and ? for a missing point.
import { readFileSync, writeFileSync } from 'node:fs';
import { convert } from 'jcampconverter';

const files = [
  'written-fix.jdx', 'written-pac.jdx', 'written-sqz.jdx', 'written-dif.jdx', 'written-difdup.jdx',
  'compound.jdx', 'micrometres.jdx', 'wavenumbers.jdx', 'percent.jdx', 'transmittance.jdx', 'pairs.jdx',
];
const found = { reader: 'jcampconverter 9.6.4', files: {} };
for (const file of files) {
  const text = readFileSync(new URL(`../${file}`, import.meta.url), 'latin1');
  found.files[file] = convert(text).flatten
    .filter((block) => block.spectra.length > 0)
    .map((block) => ({ title: block.title, x: block.spectra[0].data.x, y: block.spectra[0].data.y }));
}
writeFileSync(new URL('read.json', import.meta.url), `${JSON.stringify(found)}\n`);
