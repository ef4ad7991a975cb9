-- Two accounts on PostgreSQL: loambook_migrate owns the tables and changes them, loambook reads and writes rows and can do
-- nothing else. Run once in the shop's own database by whoever made it, after both roles were made:
--   CREATE ROLE loambook_migrate LOGIN PASSWORD '...'; CREATE ROLE loambook LOGIN PASSWORD '...';
REVOKE ALL ON SCHEMA public FROM PUBLIC;
GRANT USAGE, CREATE ON SCHEMA public TO loambook_migrate;
GRANT USAGE ON SCHEMA public TO loambook;
ALTER DEFAULT PRIVILEGES FOR ROLE loambook_migrate IN SCHEMA public
  GRANT SELECT, INSERT, UPDATE, DELETE ON TABLES TO loambook;
-- For a database that has its tables already, after REASSIGN OWNED BY loambook TO loambook_migrate:
GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO loambook;
