// Two GeoJSON validators' verdicts on files: node geojson_verdicts.cjs PACKAGES FILE...
// Prints a JSON object: file -> {"check-geojson": [message...], "geojsonhint": [message...]}; no message means valid.
'use strict';
const fs = require('fs');
const path = require('path');

const [packages, ...files] = process.argv.slice(2);
const { check } = require(path.join(packages, 'check-geojson-0.1.14', 'package'));
// The module below the one that reads text: that one needs packages which only its command line uses.
const { hint } = require(path.join(packages, 'geojsonhint-3.3.0', 'package', 'lib', 'object.js'));

function messages(judge) {
  try {
    return judge();
  } catch (error) {
    return error.issues ? error.issues.map((issue) => issue.message) : [String(error.message)];
  }
}

const verdicts = {};
for (const file of files) {
  const text = fs.readFileSync(file, 'utf8');
  verdicts[file] = {
    'check-geojson': messages(() => (check(text), [])),
    // Its precision hint starts at seven decimals, which we write; ours is checked elsewhere.
    geojsonhint: messages(() => hint(JSON.parse(text), { precisionWarning: false }).map((found) => found.message)),
  };
}
process.stdout.write(JSON.stringify(verdicts));
