// Tables in PostgreSQL: those of SQLite's layouts 2 and 3. There was no earlier one here.
#pragma once

#include "db.hpp"

namespace hb::ledger::detail {
inline constexpr const char* kPostgresVersion2 = R"sql(
CREATE TABLE schema_version(version bigint NOT NULL);
INSERT INTO schema_version VALUES(2);
CREATE TABLE entry(
  seq bigint PRIMARY KEY,
  leaf_hash bytea NOT NULL CHECK(length(leaf_hash) = 32),
  kind text NOT NULL,
  created_utc text NOT NULL,
  payload text NOT NULL);
CREATE TABLE head(
  size bigint PRIMARY KEY REFERENCES entry(seq),
  root bytea NOT NULL CHECK(length(root) = 32),
  frontier bytea NOT NULL,
  jws text NOT NULL);
CREATE FUNCTION append_only() RETURNS trigger LANGUAGE plpgsql AS
  $f$ BEGIN RAISE EXCEPTION 'append-only' USING ERRCODE = 'restrict_violation'; END $f$;
CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry FOR EACH ROW EXECUTE FUNCTION append_only();
CREATE TRIGGER entry_is_never_deleted BEFORE DELETE ON entry FOR EACH ROW EXECUTE FUNCTION append_only();
CREATE TRIGGER entry_is_never_emptied BEFORE TRUNCATE ON entry EXECUTE FUNCTION append_only();
CREATE TRIGGER head_is_never_changed BEFORE UPDATE ON head FOR EACH ROW EXECUTE FUNCTION append_only();
CREATE TRIGGER head_is_never_deleted BEFORE DELETE ON head FOR EACH ROW EXECUTE FUNCTION append_only();
CREATE TRIGGER head_is_never_emptied BEFORE TRUNCATE ON head EXECUTE FUNCTION append_only();
CREATE TABLE derived_index(
  seq bigint PRIMARY KEY,
  kind text NOT NULL,
  id text NOT NULL,
  job_id text NOT NULL,
  is_release bigint NOT NULL,
  day text NOT NULL,
  number bigint NOT NULL,
  UNIQUE(kind, id));
CREATE INDEX derived_by_job ON derived_index(job_id, seq);
CREATE INDEX derived_by_day ON derived_index(day, number);
CREATE TABLE node(
  level bigint NOT NULL,
  place bigint NOT NULL,
  hash bytea NOT NULL CHECK(length(hash) = 32),
  PRIMARY KEY(level, place));
)sql";
inline constexpr const char* kPostgresVersion3 = R"sql(
CREATE TABLE IF NOT EXISTS disclosure(
  seq bigint PRIMARY KEY REFERENCES entry(seq),
  disclosures text NOT NULL CHECK(length(disclosures) > 0));
CREATE OR REPLACE FUNCTION only_when_erased() RETURNS trigger LANGUAGE plpgsql AS
  $f$ BEGIN
    IF EXISTS(SELECT 1 FROM entry WHERE seq = OLD.seq) AND NOT EXISTS(
      SELECT 1 FROM derived_index t JOIN derived_index e ON e.kind = 'erasure' AND e.id IN (t.id, t.job_id)
      WHERE t.seq = OLD.seq)
    THEN RAISE EXCEPTION 'append-only' USING ERRCODE = 'restrict_violation'; END IF;
    RETURN OLD;
  END $f$;
DROP TRIGGER IF EXISTS disclosure_is_never_changed ON disclosure;
CREATE TRIGGER disclosure_is_never_changed BEFORE UPDATE ON disclosure
  FOR EACH ROW EXECUTE FUNCTION append_only();
DROP TRIGGER IF EXISTS disclosure_goes_only_when_erased ON disclosure;
CREATE TRIGGER disclosure_goes_only_when_erased BEFORE DELETE ON disclosure
  FOR EACH ROW EXECUTE FUNCTION only_when_erased();
DROP TRIGGER IF EXISTS disclosure_is_never_emptied ON disclosure;
CREATE TRIGGER disclosure_is_never_emptied BEFORE TRUNCATE ON disclosure EXECUTE FUNCTION append_only();
DROP TRIGGER IF EXISTS head_is_never_changed ON head;
CREATE TRIGGER head_is_never_changed BEFORE UPDATE OF size, root, jws ON head
  FOR EACH ROW EXECUTE FUNCTION append_only();
UPDATE schema_version SET version = 3;
)sql";
inline constexpr SchemaStep kPostgresSchema[] = {{2, kPostgresVersion2}, {3, kPostgresVersion3}};
}  // namespace hb::ledger::detail
