-- Prepares a PostgreSQL database for the shared archive of heelclear. Run it as the server's own
-- user, or as the database's owner with the right to make roles; as often as you like, and again
-- with each new version: what is as it should be stays.
--
--   {owner}  owns the tables; nobody logs in as it
--   benches          read everything, add records of their own, and change or delete none
--   readers          read everything

begin;
set local search_path = pg_catalog;
set local lock_timeout = '30s';
set local client_min_messages = warning;

-- What is not of the archive could act for whoever adds to it, or runs this.
do $heelclear$
declare
    tables text[] := array[{table_names}];
    name text;
    what record;
begin
    perform pg_advisory_xact_lock({tables});
    foreach name in array tables loop
        if exists (
            select from pg_class
            where relnamespace = to_regnamespace('{schema}') and relname = name and relkind <> 'r'
        ) then
            raise exception '{schema}.% is no table: take it out of the way first', name;
        end if;
    end loop;
    for what in
        select class.oid::regclass as place, 'trigger' as kind, tgname as called
            from pg_trigger join pg_class class on class.oid = tgrelid
            where relnamespace = to_regnamespace('{schema}') and relname = any (tables) and not tgisinternal
        union all select class.oid::regclass, 'rule', rulename
            from pg_rewrite join pg_class class on class.oid = ev_class
            where relnamespace = to_regnamespace('{schema}') and relname = any (tables)
        union all select class.oid::regclass, 'policy', polname
            from pg_policy join pg_class class on class.oid = polrelid
            where relnamespace = to_regnamespace('{schema}') and relname = any (tables)
        union all select class.oid::regclass, 'default', attname
            from pg_attrdef join pg_class class on class.oid = adrelid
            join pg_attribute on attrelid = adrelid and attnum = adnum
            where relnamespace = to_regnamespace('{schema}') and relname = any (tables)
        union all select class.oid::regclass, 'constraint', conname
            from pg_constraint join pg_class class on class.oid = conrelid
            where relnamespace = to_regnamespace('{schema}') and relname = any (tables) and contype = 'c'
        union all select indexrelid::regclass, 'index', ''
            from pg_index join pg_class class on class.oid = indrelid
            where relnamespace = to_regnamespace('{schema}') and relname = any (tables) and (
                indexprs is not null
                or coalesce(pg_get_expr(indpred, indrelid), '') not in ('', '(replaces IS NOT NULL)')
            )
    loop
        case what.kind
            when 'default' then
                execute format('alter table %s alter column %I drop default', what.place, what.called);
            when 'constraint' then
                execute format('alter table %s drop constraint %I', what.place, what.called);
            when 'index' then
                execute format('drop index %s', what.place);
            else
                execute format('drop %s %I on %s', what.kind, what.called, what.place);
        end case;
    end loop;
    if to_regprocedure('{schema}.subject_id(text, text)') is not null then
        drop function {schema}.subject_id(text, text);
    end if;
    for what in
        select oid::regprocedure::text as called, 'function' as kind from pg_proc
            where pronamespace = to_regnamespace('{schema}')
        union all select oid::regoperator::text, 'operator' from pg_operator
            where oprnamespace = to_regnamespace('{schema}')
        union all select oid::regtype::text, 'type' from pg_type
            where typnamespace = to_regnamespace('{schema}') and typtype not in ('b', 'c')
    loop
        raise exception 'the % % is none of the archive''s: take it out of the schema {schema} first', what.kind, what.called;
    end loop;
end
$heelclear$;

-- The roles.
do $heelclear$
declare
    wanted text[] := array[{benches}]::text[] || array[{readers}]::text[];
    powerful oid[];
    has record;
    name text;
begin
    if to_regrole('{owner}') is null then
        create role {owner} nologin;
    end if;
    if (select rolcanlogin from pg_roles where rolname = '{owner}') then
        alter role {owner} nologin;
    end if;
    -- Who is no superuser may hand over and go on with what is its own only as a member.
    if not pg_has_role(current_user, '{owner}',
        case when current_setting('server_version_num')::int >= 160000 then 'set' else 'member' end)
    then
        execute format('grant {owner} to %I', current_user);
    end if;
    execute format('grant create on database %I to {owner}', current_database());
    -- Whoever owns the database, or what there is of the archive, may undo all of this.
    select array_agg(distinct owner) into powerful from (
        select to_regrole('{owner}')::oid as owner
        union select datdba from pg_database where datname = current_database()
        union select nspowner from pg_namespace where nspname = '{schema}'
        union select relowner from pg_class where relnamespace = to_regnamespace('{schema}')
    ) owners;
    foreach name in array wanted loop
        if not exists (select from pg_roles where rolname = name) then
            execute format('create role %I login', name);
        elsif not (select rolcanlogin from pg_roles where rolname = name) then
            execute format('alter role %I login', name);
        end if;
        if name = current_user then
            raise exception 'role "%" runs this, and may undo it: name another one', name;
        end if;
        -- An earlier way had the benches share the role that owns the tables.
        for has in
            select role.rolname as of, by.rolname as grantor
            from pg_auth_members member
            join pg_roles role on role.oid = member.roleid
            join pg_roles by on by.oid = member.grantor
            where member.member = to_regrole(quote_ident(name)) and member.roleid = any (powerful)
        loop
            if current_setting('server_version_num')::int >= 160000 then
                execute format('revoke %I from %I granted by %I', has.of, name, has.grantor);
            else
                execute format('revoke %I from %I', has.of, name);
            end if;
        end loop;
        for has in
            select setdatabase <> 0 as here from pg_db_role_setting
            where setrole = to_regrole(quote_ident(name))
                and setdatabase in (0, (select oid from pg_database where datname = current_database()))
                and exists (select from unnest(setconfig) setting where setting like 'role=%')
        loop
            if has.here then
                execute format('alter role %I in database %I reset role', name, current_database());
            else
                execute format('alter role %I reset role', name);
            end if;
        end loop;
        if exists (
            select from pg_roles
            where rolname = name and (rolsuper or rolbypassrls or rolcreaterole or rolreplication)
        ) then
            raise exception 'role "%" may do more than a bench or a reader should: superuser, bypassrls, createrole or replication', name;
        end if;
        for has in
            select rolname from pg_roles
            where rolname <> name and pg_has_role(name, oid, 'member') and (
                oid = any (powerful) and rolname <> 'pg_database_owner'
                or rolname in ('pg_write_all_data', 'pg_execute_server_program', 'pg_write_server_files')
            )
        loop
            raise exception 'role "%" is a member of "%", and may do more than a bench or a reader should', name, has.rolname;
        end loop;
        if to_regrole(quote_ident(name)) = (select datdba from pg_database where datname = current_database()) then
            raise exception 'role "%" owns the database, and may undo this: name another one', name;
        end if;
    end loop;
end
$heelclear$;

-- The tables, at version {version}.
do $heelclear$
declare
    there int := 0;
    copy text;
    name text;
begin
    if to_regnamespace('{schema}') is null then
        create schema {schema};
    end if;
    if (select nspowner from pg_namespace where nspname = '{schema}') <> to_regrole('{owner}') then
        alter schema {schema} owner to {owner};
    end if;
    if to_regclass('{schema}.about') is not null then
        select value::int into there from {schema}.about where key = '{schema_key}';
        if there is null then
            raise exception 'it does not say which version its tables are';
        elsif there > {version} then
            raise exception 'the tables are of schema %, this is for {version}: use heelclear % or newer',
                there, (select value from {schema}.about where key = '{reader_key}');
        end if;
    end if;
    copy := '{schema}_schema_' || there;
    if there > 0 and there < {version} and to_regnamespace(copy) is null then
        execute format('create schema %I authorization {owner}', copy);
        for name in
            select relname from pg_class
            where relnamespace = to_regnamespace('{schema}') and relkind in ('r', 'p')
        loop
            execute format('create table %I.%I as table {schema}.%I', copy, name, name);
            execute format('alter table %I.%I owner to {owner}', copy, name);
        end loop;
        raise info 'brought up to schema {version}; as it was before, it lies in the schema %', copy;
    end if;
    perform set_config('search_path', '{schema}', true);
{steps}
    perform set_config('search_path', 'pg_catalog', true);
    if there < {version} then
        insert into {schema}.about (key, value)
        values ('{schema_key}', '{version}'), ('{reader_key}', '{program}')
        on conflict (key) do update set value = excluded.value;
    end if;
end
$heelclear$;

-- Nobody may do anything with them but what is said below.
do $heelclear$
declare
    tables text[] := array[{table_names}];
    name text;
begin
    foreach name in array tables loop
        if to_regclass('{schema}.' || name) is null then
            raise exception 'the table {schema}.% is missing', name;
        end if;
        if (select relowner from pg_class where oid = to_regclass('{schema}.' || name)) <> to_regrole('{owner}') then
            execute format('alter table {schema}.%I owner to {owner}', name);
        end if;
        execute format('alter table {schema}.%I enable row level security', name);
        execute format('create policy %I on {schema}.%I for select using (true)', name || '_read', name);
    end loop;
end
$heelclear$;

-- A bench is the role's that made it; who put contents in is written down. Neither column can be
-- set by a bench, nor changed.
alter table {schema}.bench add column if not exists owner name;
alter table {schema}.bench alter column owner set default current_user;
alter table {schema}.content add column if not exists owner name;
alter table {schema}.content alter column owner set default current_user;

-- A bench begins empty, and its end moves to its last record alone.
create policy bench_add on {schema}.bench for insert with check (
    owner = current_user and head = 0
);
create policy bench_go_on on {schema}.bench for update using (owner = current_user) with check (
    owner = current_user
    and not exists (
        select from {schema}.record where record.bench = bench.id and record.number > bench.head
    )
    and (
        head = 0
        or exists (
            select from {schema}.record
            where record.bench = bench.id and record.number = bench.head and record.chain = bench.chain
        )
    )
);

-- A record is added behind the last one of a bench of the same role.
create policy record_add on {schema}.record for insert with check (
    exists (
        select from {schema}.bench
        where bench.id = record.bench and bench.owner = current_user
            and record.number = bench.head + 1 and record.previous = bench.chain
    )
);

-- Its files are added with it, in one transaction, and none later.
create policy file_add on {schema}.file for insert with check (
    exists (
        select from {schema}.bench
        where bench.id = file.bench and bench.owner = current_user
    )
    and exists (
        select from {schema}.record
        where record.bench = file.bench and record.number = file.number
            and record.xmin::text::bigint = (txid_current() & 4294967295)
    )
);

-- Contents and subjects are shared by all records that have them; what lies under a number or a
-- digest stays. A subject's number is made of what it says.
create policy content_add on {schema}.content for insert with check (octet_length(digest) = 32);
create function {schema}.subject_id(features text, words text) returns bigint
language sql immutable strict set search_path = pg_catalog as $body$
    select (
        'x' || encode(
            substring(
                sha256(
                    '\x1100000000000000'::bytea || convert_to('heelclear subject', 'UTF8')
                    || decode(lpad(to_hex(octet_length($1) & 255), 2, '0')
                        || lpad(to_hex(octet_length($1) >> 8 & 255), 2, '0')
                        || lpad(to_hex(octet_length($1) >> 16 & 255), 2, '0')
                        || lpad(to_hex(octet_length($1) >> 24 & 255), 2, '0') || '00000000', 'hex')
                    || convert_to($1, 'UTF8')
                    || decode(lpad(to_hex(octet_length($2) & 255), 2, '0')
                        || lpad(to_hex(octet_length($2) >> 8 & 255), 2, '0')
                        || lpad(to_hex(octet_length($2) >> 16 & 255), 2, '0')
                        || lpad(to_hex(octet_length($2) >> 24 & 255), 2, '0') || '00000000', 'hex')
                    || convert_to($2, 'UTF8')
                ) from 1 for 8
            ), 'hex'
        )
    )::bit(64)::bigint
$body$;
alter function {schema}.subject_id(text, text) owner to {owner};
create policy subject_add on {schema}.subject for insert with check (
    id = {schema}.subject_id(features, words)
);

-- Who may do what: the roles named here, and those that were let in before.
do $heelclear$
declare
    benches text[] := array[{benches}]::text[];
    readers text[] := array[{readers}]::text[];
    one record;
    name text;
begin
    for one in
        select grantee.oid, coalesce(rolname, 'public') as called,
            bool_or(relname = 'record' and privilege_type = 'INSERT') as adds,
            bool_or(relname = 'record' and privilege_type = 'SELECT') as reads
        from pg_class, aclexplode(relacl) granted
            left join pg_roles grantee on grantee.oid = granted.grantee
        where relnamespace = to_regnamespace('{schema}') and relname = any (array[{table_names}])
            and granted.grantee <> to_regrole('{owner}')
        group by 1, 2
    loop
        name := case when one.oid is null then 'public' else quote_ident(one.called) end;
        execute format('revoke all on {all_tables} from %s cascade', name);
        if one.oid is null then
            raise warning 'everybody in this database could read or write the archive, and may no longer';
        elsif one.adds and not pg_has_role(one.oid, to_regrole('{owner}'), 'member') then
            benches := benches || one.called::text;
        elsif one.reads then
            readers := readers || one.called::text;
        end if;
    end loop;
    -- Columns have rights of their own.
    for one in
        select distinct coalesce(rolname, 'public') as called, grantee.oid
        from pg_class join pg_attribute on attrelid = pg_class.oid, aclexplode(attacl) granted
            left join pg_roles grantee on grantee.oid = granted.grantee
        where relnamespace = to_regnamespace('{schema}') and relname = any (array[{table_names}])
            and granted.grantee <> to_regrole('{owner}')
    loop
        name := case when one.oid is null then 'public' else quote_ident(one.called) end;
        execute format('revoke all on {all_tables} from %s cascade', name);
    end loop;
    revoke create on schema {schema} from public;
    foreach name in array benches || readers loop
        execute format('revoke create on schema {schema} from %I', name);
        execute format('grant usage on schema {schema} to %I', name);
        execute format('grant select on {all_tables} to %I', name);
    end loop;
    foreach name in array benches loop
        execute format('grant insert (id, head, chain), update (head, chain) on {schema}.bench to %I', name);
        execute format('grant insert on {schema}.subject, {schema}.record, {schema}.file to %I', name);
        execute format('grant insert (digest, packed) on {schema}.content to %I', name);
    end loop;
end
$heelclear$;

-- Benches that belong to a role by name, those too that have no record yet.
{ties}
-- What is left to be seen to.
do $heelclear$
declare
    one record;
begin
    for one in select id from {schema}.bench where owner is null order by id loop
        raise warning 'bench "%" was copied before benches had roles: nobody may go on with it until its role is named, with --bench ROLE=%', one.id, one.id;
    end loop;
    for one in
        select rolname from pg_roles
        where not rolsuper and rolcanlogin and rolname <> current_user
            and oid <> (select datdba from pg_database where datname = current_database())
            and (
                pg_has_role(oid, '{owner}', 'member')
                or pg_has_role(oid, (select datdba from pg_database where datname = current_database()), 'member')
            )
        order by 1
    loop
        raise warning 'role "%" may do what the owner may: name it with --bench if it is a bench', one.rolname;
    end loop;
end
$heelclear$;

commit;

