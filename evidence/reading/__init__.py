"""What people bring: tables, study files, programmes, drafts. Files in, dataclasses with positions out."""
