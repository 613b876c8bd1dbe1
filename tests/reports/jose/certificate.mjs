// Checks a record by the shop's root alone, with a library that is not ours: the certificate as a JSON Web Token
// at the time of the run, then the record with the key that the certificate confirms.
// node certificate.mjs CERTIFICATE_FILE ROOT_JWK_FILE RECORD_FILE -> prints the record; exit 1 when refused.
import { webcrypto } from 'node:crypto';
import { readFileSync } from 'node:fs';

globalThis.crypto ??= webcrypto; // Debian 12's Node.js 18 has it, but not as a global
const { jwtVerify, compactVerify, importJWK, calculateJwkThumbprint } = await import('jose');

const [certificateFile, rootFile, recordFile] = process.argv.slice(2);
const text = (file) => readFileSync(file, 'utf8').trim();
const rootJwk = JSON.parse(text(rootFile));
const algorithms = ['EdDSA'];
try {
  const record = text(recordFile).split('~')[0]; // what it discloses is for another reader
  const finished = JSON.parse(Buffer.from(record.split('.')[1], 'base64url')).run.finished;
  const { payload } = await jwtVerify(text(certificateFile), await importJWK(rootJwk, 'EdDSA'), {
    algorithms,
    typ: 'handback-bench+jwt',
    issuer: await calculateJwkThumbprint(rootJwk, 'sha256'),
    currentDate: new Date(finished),
    requiredClaims: ['cnf', 'exp', 'iat', 'jti', 'nbf', 'sub'],
  });
  const benchJwk = payload.cnf.jwk;
  if ((await calculateJwkThumbprint(benchJwk, 'sha256')) !== payload.sub) throw new Error('sub is not the key');
  const signed = await compactVerify(record, await importJWK(benchJwk, 'EdDSA'), { algorithms });
  process.stdout.write(signed.payload);
} catch (e) {
  console.error(String(e.code ?? e.message));
  process.exit(1);
}
