-- A book as revision 0002 left it. It is never changed: later programs have to open it.

CREATE TABLE book_revision (version_num VARCHAR(32) PRIMARY KEY);

INSERT INTO book_revision VALUES ('0002');

CREATE TABLE site (
    id SERIAL NOT NULL,
    slug VARCHAR(80) NOT NULL,
    made_at VARCHAR(27) NOT NULL,
    removed_at VARCHAR(27),
    PRIMARY KEY (id),
    UNIQUE (slug)
);

CREATE TABLE version (
    id SERIAL NOT NULL,
    site_id INTEGER NOT NULL,
    number INTEGER NOT NULL,
    made_at VARCHAR(27) NOT NULL,
    what TEXT NOT NULL,
    toml TEXT NOT NULL,
    copy_of INTEGER,
    name TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (id),
    UNIQUE (site_id, number),
    FOREIGN KEY(site_id) REFERENCES site (id)
);

CREATE TABLE first_run (
    id SERIAL NOT NULL,
    site_id INTEGER NOT NULL,
    version_number INTEGER NOT NULL,
    begun_at VARCHAR(27) NOT NULL,
    temperature_c DOUBLE PRECISION,
    running_bar DOUBLE PRECISION,
    running_l_min DOUBLE PRECISION,
    closed_at VARCHAR(27),
    PRIMARY KEY (id),
    FOREIGN KEY(site_id, version_number) REFERENCES version (site_id, number)
);

CREATE TABLE reading (
    id SERIAL NOT NULL,
    first_run_id INTEGER NOT NULL,
    client_id VARCHAR(80) NOT NULL,
    key TEXT NOT NULL,
    value DOUBLE PRECISION,
    taken_at VARCHAR(27) NOT NULL,
    kept_at VARCHAR(27) NOT NULL,
    PRIMARY KEY (id),
    FOREIGN KEY(first_run_id) REFERENCES first_run (id),
    UNIQUE (client_id)
);

CREATE INDEX ix_reading_first_run_id ON reading (first_run_id);

CREATE TABLE tick (
    id SERIAL NOT NULL,
    site_id INTEGER NOT NULL,
    client_id VARCHAR(80) NOT NULL,
    sheet TEXT NOT NULL,
    key TEXT NOT NULL,
    done BOOLEAN NOT NULL,
    ticked_at VARCHAR(27) NOT NULL,
    kept_at VARCHAR(27) NOT NULL,
    PRIMARY KEY (id),
    FOREIGN KEY(site_id) REFERENCES site (id),
    UNIQUE (client_id)
);

CREATE INDEX ix_tick_site_id ON tick (site_id);

CREATE TABLE document (
    id SERIAL NOT NULL,
    site_id INTEGER NOT NULL,
    number VARCHAR(20) NOT NULL,
    kind TEXT NOT NULL,
    title TEXT NOT NULL,
    issued_at VARCHAR(27) NOT NULL,
    version_number INTEGER NOT NULL,
    program TEXT NOT NULL,
    data TEXT NOT NULL,
    html_sha256 VARCHAR(64) NOT NULL,
    pdf_sha256 VARCHAR(64) NOT NULL,
    html BYTEA NOT NULL,
    pdf BYTEA NOT NULL,
    PRIMARY KEY (id),
    FOREIGN KEY(site_id, version_number) REFERENCES version (site_id, number),
    UNIQUE (number)
);

CREATE TABLE setting (
    key VARCHAR(80) NOT NULL,
    value TEXT NOT NULL,
    PRIMARY KEY (key)
);

INSERT INTO site VALUES (1, 'tern-quay', '2026-03-01T09:30:00.000000Z', NULL);
INSERT INTO site VALUES (2, 'mill-lane', '2026-03-01T10:00:00.250000Z', '2026-03-04T07:00:00.000000Z');

INSERT INTO version VALUES (1, 1, 1, '2026-03-01T09:30:00.000000Z', 'first', 'a = 1
# Née', NULL, 'Tern Quay');
INSERT INTO version VALUES (2, 1, 2, '2026-03-01T09:45:00.000000Z', 'a larger membrane', 'a = 2
', NULL, 'Tern Quay');
INSERT INTO version VALUES (3, 2, 1, '2026-03-01T10:00:00.250000Z', 'first', 'b = 1
', NULL, 'Mill Lane');
INSERT INTO version VALUES (4, 1, 3, '2026-03-03T12:00:00.000000Z', 'undone: a larger membrane', 'a = 1
# Née', 1, 'Tern Quay');

INSERT INTO first_run VALUES (1, 1, 2, '2026-03-02T09:00:00.000000Z', 11.5, 3.25, NULL, '2026-03-02T10:00:00.000000Z');
INSERT INTO first_run VALUES (2, 1, 3, '2026-03-03T13:00:00.000000Z', NULL, NULL, NULL, NULL);

INSERT INTO reading VALUES (1, 1, 'phone-1', 'product_meter_ppm', 12.1, '2026-03-02T09:10:00.000000Z',
    '2026-03-02T09:10:01.000000Z');
INSERT INTO reading VALUES (2, 1, 'phone-2', 'product_meter_ppm', 9.7, '2026-03-02T09:20:00.000000Z',
    '2026-03-02T09:20:01.000000Z');
INSERT INTO reading VALUES (3, 1, 'phone-3', 'clear_again_min', NULL, '2026-03-02T09:30:00.000000Z',
    '2026-03-02T09:50:00.000000Z');

INSERT INTO tick VALUES (1, 1, 'phone-4', 'unpacking', 'element', TRUE, '2026-03-02T07:00:00.000000Z',
    '2026-03-02T07:00:01.000000Z');
INSERT INTO tick VALUES (2, 1, 'phone-5', 'unpacking', 'element', FALSE, '2026-03-02T07:05:00.000000Z',
    '2026-03-02T07:05:01.000000Z');

INSERT INTO setting VALUES ('units.pressure', 'psi');
INSERT INTO setting VALUES ('first run begun 5f0c7a52-phone', '2');

INSERT INTO document VALUES (1, 1, '2026-0001', 'plan', 'Plan of Tern Quay', '2026-03-02T08:00:00.000000Z', 2,
    '0.1.0', '3', 'd82d8d0ba14d710ed6a26d770ace27d048dc7999519498c409a2a72d6ce42e7a',
    '4cec18cee14a6a4b9dd764b273daff4511f6a74d58ef3c9beb633369858f13af',
    '\x3c703e4ec3a96520313220c2b0433c2f703e',
    '\x255044462d312e37000aff');

SELECT setval('site_id_seq', 2);
SELECT setval('version_id_seq', 4);
SELECT setval('first_run_id_seq', 2);
SELECT setval('reading_id_seq', 3);
SELECT setval('tick_id_seq', 2);
SELECT setval('document_id_seq', 1);
