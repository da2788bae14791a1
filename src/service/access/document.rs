//! What the document of the API says of access: the key, and the answers of the guard that stands
//! before every handler.

use serde_json::{Value, json};

/// Adds them to each address of the document.
pub(in crate::service) fn describe(document: &mut Value) {
    let key = json!({
        "type": "http",
        "scheme": "bearer",
        "description": "The service's key, where it is open to the network"
    });
    if let Some(components) = document.get_mut("components").and_then(Value::as_object_mut) {
        components.insert("securitySchemes".into(), json!({ "key": key }));
    }
    let paths = document.get_mut("paths").and_then(Value::as_object_mut);
    for (method, operation) in
        paths.into_iter().flatten().flat_map(|(_, path)| path.as_object_mut().into_iter().flatten())
    {
        let changes = method == "post" || method == "delete";
        if changes {
            // Where only this machine reaches the service no key is asked for.
            operation["security"] = json!([{ "key": [] }, {}]);
        }
        let Some(responses) = operation.get_mut("responses").and_then(Value::as_object_mut) else {
            continue;
        };
        let mut add = |status: &str, description: &str| {
            let problem = json!({ "$ref": "#/components/schemas/Problem" });
            responses.entry(status).or_insert_with(|| {
                json!({
                    "description": description,
                    "content": { "application/problem+json": { "schema": problem } }
                })
            });
        };
        add("400", "The request is not one");
        add("421", "The request is meant for a host that this is not");
        if changes {
            add(
                "401",
                "Needs the key: open to the network, and nothing was shown that lets this be",
            );
            add("403", "A page of another site asked");
            add("408", "It did not come, or was not done, in time");
        }
    }
}
