{#- nbgrader's page of this name, with a link to the set's common mistakes. -#}
{%- extends 'form_grader/gradebook_notebooks.tpl' -%}

{%- block breadcrumbs -%}
{{ super() }}
<p><a href="{{ base_url }}/lens-course/mistakes/{{ assignment_id | urlencode }}">Common mistakes: one comment for all who made the same</a></p>
{%- endblock -%}
