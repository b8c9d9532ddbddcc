// Reads the Parquet files of an export by DuckDB and compares the count and the sum of every numeric column
// with those that DuckDB finds in the CSV files beside them, and, of tables of the study, with those that the
// program sqlite3 finds in the study file:
//
//	node .ci/parquet.mjs EXPORT STUDY.wane
//
// It is run by .ci/long, which installs @duckdb/node-api.
import { execFileSync } from 'node:child_process';
import { readdirSync } from 'node:fs';
import { DuckDBInstance } from '@duckdb/node-api';

const [folder, study] = process.argv.slice(2);
const db = await (await DuckDBInstance.create(':memory:', { threads: '1' })).connect();
const ask = async (query) => (await db.runAndReadAll(query)).getRowsJS();
const numeric = new Set(['BIGINT', 'DOUBLE', 'DOUBLE[]']);
const columnsOf = async (file) =>
	(await ask(`describe select * from '${file}'`)).map(([name, type]) => ({ name, type })).filter((c) => numeric.has(c.type));

// sums returns [count, sum, sum of absolute values] of each column.
const sums = async (from, columns, cell) => {
	const list = columns.flatMap((c) => [`count(${cell(c)})`, `fsum(${cell(c)})`, `fsum(abs(${cell(c)}))`]);
	const [row] = await ask(`select ${list.join(', ')} from ${from}`);
	return columns.map((_, i) => row.slice(3 * i, 3 * i + 3).map((v) => Number(v ?? 0)));
};

const tables = new Set(execFileSync('sqlite3', [study, "select name from sqlite_schema where type = 'table'"])
	.toString().trim().split('\n'));
let compared = 0, differ = 0;
const compare = (what, [n, sum], [m, other, absolute]) => {
	compared++;
	// Each sum is good to the rounding of its last digits; sqlite3 adds n numbers without care.
	if (n === m && Math.abs(sum - other) <= absolute * Math.max(16, n) * 2 ** -53) return;
	differ++;
	console.log(`differs: ${what}: ${n} numbers, sum ${sum}; ${m} numbers, sum ${other}`);
};

for (const file of readdirSync(`${folder}/parquet`).sort()) {
	const name = file.replace('.parquet', '');
	const columns = await columnsOf(`${folder}/parquet/${file}`);
	const lists = columns.some((c) => c.type === 'DOUBLE[]');
	const points = columns.filter((c) => c.type === 'DOUBLE[]').map((c) => `unnest("${c.name}") as "${c.name}"`);
	const others = columns.filter((c) => c.type !== 'DOUBLE[]').map((c) => `"${c.name}"`);
	const from = `(select ${[...others, ...points].join(', ')} from '${folder}/parquet/${file}')`; // a row for each point, as in CSV
	const found = await sums(from, columns, (c) => `"${c.name}"`);
	const csv = `read_csv('${folder}/csv/${name}.csv', all_varchar = true, header = true)`;
	const inCSV = await sums(csv, columns, (c) => `cast("${c.name}" as ${c.type.replace('[]', '')})`);
	columns.forEach((c, i) => compare(`${name}.${c.name} and CSV`, found[i], inCSV[i]));
	if (!tables.has(name) || lists) continue;
	const has = execFileSync('sqlite3', [study, `select name from pragma_table_info('${name}')`]).toString().trim().split('\n');
	for (const [i, c] of columns.entries()) {
		if (!has.includes(c.name)) continue;
		const query = `select count("${c.name}"), printf('%!.17g', total("${c.name}")), printf('%!.17g', total(abs("${c.name}"))) from "${name}"`;
		compare(`${name}.${c.name} and sqlite3`, found[i], execFileSync('sqlite3', [study, query]).toString().trim().split('|').map(Number));
	}
}
const [[spectra, counted]] = await ask(`select count(*), sum(len(value)) from '${folder}/parquet/spectra.parquet'`);
console.log(`DuckDB: ${spectra} spectra with ${counted} points; ${compared} pairs of sums compared, ${differ} differ`);
process.exit(differ > 0 || compared < 200 ? 1 : 0);
