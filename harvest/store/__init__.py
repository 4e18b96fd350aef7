"""The only place with the database and with files: schema, migrations, reading, writing."""
