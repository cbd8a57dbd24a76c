"""What a person looks at, and what a program reads of an answer: tables, JSON, pictures, the report page."""
