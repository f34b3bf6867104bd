//! The life of a record: made, read, changed, found, removed.

/// Makes a record under a new id, reads it, changes it, lists its kind and removes it again. A refusal for overload ends it early.
macro_rules! life {
    (
        $caller:ident, $client:ident, $service:literal, $record:expr, $field:ident,
        $create:ident $Create:ident $id:ident $create_name:literal,
        $get:ident $Get:ident $get_name:literal,
        $update:ident $Update:ident $update_name:literal,
        $list:ident $List:ident $list_name:literal,
        $delete:ident $Delete:ident $delete_name:literal
    ) => {{
        let mut client = $client::new($caller.channel.clone());
        let request = v1::$Create { $id: $caller.new_id(), $field: Some($record) };
        let Some(made) = $caller.call(concat!($service, "/", $create_name), client.$create(request)).await else {
            return;
        };
        let get = v1::$Get { name: made.name.clone() };
        $caller.call(concat!($service, "/", $get_name), client.$get(get)).await;
        let mut changed = made.clone();
        changed.notes = "Changed under load.".to_owned();
        let update = v1::$Update { $field: Some(changed), update_mask: None };
        $caller.call(concat!($service, "/", $update_name), client.$update(update)).await;
        let list = v1::$List { page_size: 20, ..Default::default() };
        $caller.call(concat!($service, "/", $list_name), client.$list(list)).await;
        let delete = v1::$Delete { name: made.name, ..Default::default() };
        $caller.call(concat!($service, "/", $delete_name), client.$delete(delete)).await;
    }};
}

pub(super) use life;
