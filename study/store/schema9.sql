-- Version 9.

-- 1: nobody judges, amends or moves what they took in or enrolled themselves.
ALTER TABLE study ADD COLUMN two_people INTEGER CHECK (two_people = 1);
